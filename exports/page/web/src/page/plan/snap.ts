/** The node of a grid nearest to a value, of those from `low` to `high`. */
export function snap(pitch: number, value: number, low = -Infinity, high = Infinity): number {
  const least = Math.ceil(low / pitch - 1e-6);
  const most = Math.floor(high / pitch + 1e-6);
  return Math.min(Math.max(Math.round(value / pitch), least), Math.max(most, least)) * pitch;
}
