import { make } from "../elements";
import { tellNumber } from "../figures";

/** A number with its unit that is written into a field. */
export interface NumberField {
  element: HTMLElement;
  input: HTMLInputElement;
  /** Shows a number of the plan, unless another one was typed and is neither made an edit nor given up. */
  show(value: number): void;
  /** Nothing can be typed, for a reason that stands beside the field. */
  lock(why: string): void;
  /** What was typed is made an edit: it stands until the plan has another number than before. */
  commit(): void;
  /** What was typed is given up: the plan's number is shown next. */
  giveUp(): void;
  /** Takes what was typed into the field that this one replaces. */
  takeTyped(before: NumberField): void;
  /** The number in the field; null, with its reason beside the field, where it is none that can be. */
  read(): number | null;
  /** Says what is wrong beside the field; "" takes it away. */
  complain(text: string): void;
  /** Whether another number was typed that is neither made an edit nor given up. */
  readonly typed: boolean;
  /** Whether it holds another number than the plan. */
  readonly changed: boolean;
}

export interface NumberRange {
  least: number;
  most: number;
  step: number;
}

let count = 0;

/** Makes a field of a length in mm. */
export function makeNumberField(label: string, range: NumberRange): NumberField {
  const id = `thing-field-${++count}`;
  const input = make("input");
  const error = make("span", { class: "thing-error" });
  const unit = make("span", { class: "thing-unit" }, "mm");
  const name = make("label", {}, label);
  input.id = name.htmlFor = id;
  error.id = `${id}-error`;
  unit.id = `${id}-unit`;
  input.type = "number";
  input.min = String(range.least);
  input.max = String(range.most);
  // Steps of the grid by arrow keys; any number can be typed.
  input.step = String(range.step);
  input.setAttribute("aria-describedby", `${unit.id} ${error.id}`);
  let shown: number | null = null;
  let typed = false;
  input.addEventListener("input", () => (typed = true));

  const told = (length: number): string => `${tellNumber(length)} mm`;
  const field: NumberField = {
    element: make("div", { class: "thing-field" }, name, input, unit, error),
    input,
    get typed() {
      return typed && field.changed;
    },
    get changed() {
      return shown === null ? input.value !== "" : input.value === "" || Math.abs(Number(input.value) - shown) > 1e-6;
    },
    show(value) {
      // What was typed stands; what was made an edit, until the plan tells another number than before.
      const stands = typed || value === shown;
      shown = value;
      if (stands && field.changed) return;
      typed = false;
      input.value = String(Math.round(value * 1000) / 1000);
      field.complain("");
    },
    commit() {
      typed = false;
    },
    giveUp() {
      typed = false;
      shown = null;
    },
    lock(why) {
      const reason = make("span", { class: "thing-reason" }, why);
      reason.id = `${id}-reason`;
      input.disabled = true;
      input.setAttribute("aria-describedby", `${unit.id} ${reason.id}`);
      field.element.append(reason);
    },
    takeTyped(before) {
      if (!before.typed) return;
      input.value = before.input.value;
      typed = true;
    },
    read() {
      const value = Number(input.value);
      if (input.value.trim() === "" || !Number.isFinite(value)) field.complain("write a number, in mm");
      else if (value < range.least - 1e-9) field.complain(`${told(value)} is less than ${told(range.least)}`);
      else if (value > range.most + 1e-9) field.complain(`${told(value)} is more than ${told(range.most)}`);
      else {
        field.complain("");
        return value;
      }
      return null;
    },
    complain(text) {
      error.textContent = text;
      if (text) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    },
  };
  return field;
}
