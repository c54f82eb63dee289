/** Numbers as they are read on the page, with a true minus sign; nothing is less than nothing. */

/** With so many digits. */
export function tellFixed(value: number, digits: number): string {
  const text = value.toFixed(digits);
  return Number(text) === 0 ? text.replace("-", "") : text.replace("-", "−");
}

/** With two digits at most. */
export function tellNumber(value: number): string {
  return String(Math.round(value * 100) / 100).replace("-", "−");
}
