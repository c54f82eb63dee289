import { make, tell } from "./elements";
import { tellNumber } from "./figures";

type Input = HTMLInputElement | HTMLSelectElement;

/** A labelled input, with what it takes and what is wrong with it beside it. */
export class Field<I extends Input = Input> {
  readonly element: HTMLElement;
  private readonly label: HTMLLabelElement;
  private readonly range = make("span", { class: "soft" });
  private readonly wrong: HTMLElement;

  constructor(
    words: string,
    readonly input: I,
  ) {
    this.label = make("label", { for: input.id }, words);
    this.range.id = `${input.id}-range`;
    this.wrong = make("p", { id: `${input.id}-wrong`, class: "wrong" });
    this.element = make("div", { class: "field" }, this.label, input, this.range, this.wrong);
    input.setAttribute("aria-describedby", `${this.range.id} ${this.wrong.id}`);
    // Who mends it is told no more that it is wrong; whether it now is right is looked at with all others.
    input.addEventListener("input", () => this.complain(""));
  }

  get words(): string {
    return this.label.textContent ?? "";
  }

  rename(words: string): void {
    tell(this.label, words);
  }

  hint(words: string): void {
    tell(this.range, words);
  }

  /** Says what is wrong, "" for nothing; returns whether all is well. */
  complain(why: string): boolean {
    tell(this.wrong, why);
    this.input.setAttribute("aria-invalid", String(Boolean(why)));
    return !why;
  }

  /** Asks the input itself whether its value can be: a number in its range, a text that is there. */
  check(): boolean {
    const blank = this.input.required && !this.input.value.trim();
    if (this.input.validity.valid && !blank) return this.complain("");
    const why = this.input.type === "number" ? `must be a number from ${this.range.textContent}` : "is missing";
    return this.complain(`${this.words}: ${why}.`);
  }
}

export function makeNumber(id: string): HTMLInputElement {
  return make("input", { id, type: "number", step: "any", required: true });
}

/** Sets what a number may be, and what it is at first. */
export function bound(
  field: Field<HTMLInputElement>,
  [least, most]: [number, number],
  unit: string,
  first: number,
): void {
  const { input } = field;
  input.min = String(least);
  input.max = String(most);
  input.value = String(Math.min(Math.max(first, least), most));
  field.hint(`${tellNumber(least)} to ${tellNumber(most)} ${unit}`);
}
