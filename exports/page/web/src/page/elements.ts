/** Elements made in one call, of the page and of drawings: what a page without a framework needs most. */

type Child = Node | string | null | false;
type Attributes = Record<string, string | number | boolean | null | EventListener>;
/** Of an element of a drawing. */
export type DrawnAttributes = Record<string, string | number>;

const DRAWN = "http://www.w3.org/2000/svg";

/** Makes an element; attributes named `on...` are listeners, false and null leave one out. */
export function make<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") element.addEventListener(name.slice(2), value);
    else if (value !== null && value !== false) element.setAttribute(name, value === true ? "" : String(value));
  }
  element.append(...children.filter((child) => child !== null && child !== false));
  return element;
}

export function button(content: string | Node, pressed: () => void, attributes: Attributes = {}): HTMLButtonElement {
  return make("button", { type: "button", onclick: pressed, ...attributes }, content);
}

/** Makes an element of a drawing. */
export function draw<K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: DrawnAttributes = {},
  ...children: (Node | string)[]
): SVGElementTagNameMap[K] {
  const element = document.createElementNS(DRAWN, tag);
  setAll(element, attributes);
  element.append(...children);
  return element;
}

export function setAll(element: Element, attributes: DrawnAttributes): void {
  for (const name in attributes) element.setAttribute(name, figure(attributes[name]!));
}

/** A number of a drawing without needless digits, as SVG reads it. */
export function figure(value: string | number): string {
  return typeof value === "number" ? String(Math.round(value * 1000) / 1000) : value;
}

/** Sets a text only where it is another: a live region says what is set. */
export function tell(element: Element, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}

/** Whether the keyboard is at nothing, or at what can have it no more. */
export function isLost(focused: Element | null): boolean {
  if (focused === null || focused === document.body) return true;
  return focused.closest("[hidden], dialog:not([open])") !== null || focused.matches(":disabled");
}
