import type { Scale } from "./scale";

/** The scale of colours with its numbers and unit. */
export class Legend {
  readonly element = document.createElement("div");

  constructor() {
    this.element.className = "solid-legend";
  }

  show(scale: Scale | null): void {
    this.element.hidden = scale === null;
    if (!scale) return;
    const { words, unit, texts } = scale.quantity;
    const bar = document.createElement("div");
    bar.className = "solid-bar";
    bar.style.backgroundImage = scale.gradient;
    const numbers = document.createElement("div");
    numbers.className = "solid-ticks";
    numbers.append(...texts.map((text) => write("span", text.replace("-", "−"))));
    const whole = document.createElement("div");
    whole.className = "solid-scale";
    whole.append(bar, numbers);
    this.element.replaceChildren(write("div", `${words} [${unit}]`), whole, write("div", "thicker: more flow; grey: none"));
  }
}

function write(tag: string, words: string): HTMLElement {
  const element = document.createElement(tag);
  element.textContent = words;
  return element;
}
