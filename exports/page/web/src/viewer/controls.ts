import type { Axis } from "./cut";
import { AXES } from "./cut";
import type { Quantity } from "./scene";

/** What the view shows; the controls change it, and it can be kept and set again. */
export interface Shown {
  /** Opacity of each group of parts, 0 to 1; 0: hidden. */
  groups: Record<string, number>;
  flow: Quantity["key"] | null;
  cut: { axis: Axis | null; at: number; turned: boolean };
  pins: boolean;
  walls: boolean;
  air: boolean;
  stays: boolean;
  /** Whether presses take places between which is measured. */
  measuring: boolean;
}

/** A named side to look from: angles in degrees. */
export interface Side {
  words: string;
  yaw: number;
  pitch: number;
}

export const SIDES: readonly Side[] = [
  { words: "front", yaw: 0, pitch: 0 },
  { words: "back", yaw: 180, pitch: 0 },
  { words: "left", yaw: -90, pitch: 0 },
  { words: "right", yaw: 90, pitch: 0 },
  { words: "top", yaw: 0, pitch: 90 },
  { words: "bottom", yaw: 0, pitch: -90 },
  { words: "front, aslant", yaw: -32, pitch: 24 },
  { words: "back, aslant", yaw: 148, pitch: 24 },
];

export interface Choices {
  groups: string[];
  quantities: Quantity[];
  /** From and to, in mm, along each axis. */
  range: Record<Axis, [number, number]>;
  /** Which marks there are at all. */
  has: { pins: boolean; walls: boolean; air: boolean; stays: boolean };
}

export interface Answers {
  changed(): void;
  look(side: Side): void;
  zoom(factor: number): void;
  whole(): void;
  /** An axis was chosen: where to cut and from which side is for the view to say. */
  cutAlong(axis: Axis | null): void;
  /** Go to the next mark that is shown, or with -1 to the one before. */
  step(by: 1 | -1): void;
  /** Measuring was switched on or off. */
  measure(): void;
  /** Measure to or from the place of the mark. */
  takeMarked(): void;
}

const STEP_MM = 0.5;

const AXIS_WORDS: Record<Axis, string> = {
  x: "across x (left to right)",
  y: "across y (bottom to top)",
  z: "across z (back to front)",
};

let made = 0;

/** The controls beside the picture: plain form elements with labels. */
export class Controls {
  readonly element = document.createElement("form");
  private readonly place: HTMLInputElement;
  private readonly number = document.createElement("span");
  private readonly other: HTMLButtonElement;
  private readonly boxes: (() => void)[] = [];
  private readonly take: HTMLButtonElement;
  private readonly prefix = `solid-${++made}`;

  constructor(
    private readonly shown: Shown,
    private readonly choices: Choices,
    private readonly answers: Answers,
  ) {
    this.element.className = "solid-controls";
    this.element.addEventListener("submit", (event) => event.preventDefault());
    this.place = input("range", `${this.prefix}-at`);
    this.place.className = "solid-cut-place";
    this.other = button("show the other half", () => {
      this.shown.cut.turned = !this.shown.cut.turned;
      this.change();
    });
    this.take = button("take the marked place", () => this.answers.takeMarked());
    this.element.append(this.views(), this.parts(), this.flow(), this.cutting(), this.marks(), this.measuring());
    this.update();
  }

  /** Shows what `shown` says. */
  update(): void {
    for (const refresh of this.boxes) refresh();
    const { axis, at } = this.shown.cut;
    this.place.disabled = this.other.disabled = axis === null;
    if (axis === null) {
      this.number.textContent = "";
      return;
    }
    const [from, to] = this.choices.range[axis];
    Object.assign(this.place, { min: String(from), max: String(to), step: String(STEP_MM) });
    this.place.value = String(at);
    this.number.textContent = `${axis} = ${at.toFixed(1)} mm`;
    this.place.setAttribute("aria-valuetext", `${axis} ${at.toFixed(1)} mm`);
  }

  private views(): HTMLElement {
    const sides = SIDES.map((side) => button(side.words, () => this.answers.look(side)));
    const sizes = [
      button("nearer", () => this.answers.zoom(1 / 1.3)),
      button("farther", () => this.answers.zoom(1.3)),
      button("whole panel", () => this.answers.whole()),
    ];
    return group("Look from", row(...sides), row(...sizes));
  }

  private parts(): HTMLElement {
    const rows = this.choices.groups.map((name) => {
      const box = this.box(
        name,
        () => (this.shown.groups[name] ?? 0) > 0,
        (on) => (this.shown.groups[name] = on ? Number(clear.value) / 100 : 0),
      );
      const clear = input("range", `${this.prefix}-clear-${name.replace(/\W/g, "-")}`);
      Object.assign(clear, { min: "10", max: "100", step: "5", value: "100" });
      clear.setAttribute("aria-label", `how solid: ${name}`);
      clear.addEventListener("input", () => {
        this.shown.groups[name] = Number(clear.value) / 100;
        this.change();
      });
      this.boxes.push(() => {
        const opacity = this.shown.groups[name] ?? 0;
        clear.disabled = opacity === 0;
        if (opacity > 0) clear.value = String(Math.round(100 * opacity));
        clear.setAttribute("aria-valuetext", `${clear.value} %`);
      });
      const line = row(box, clear);
      line.classList.add("solid-part");
      return line;
    });
    return group("Parts: shown, and how solid", ...rows);
  }

  private flow(): HTMLElement {
    const options: [string, Quantity["key"] | null][] = [
      ["not shown", null],
      ...this.choices.quantities.map(({ key, words, unit }): [string, Quantity["key"]] => [
        `${words} [${unit}]`,
        key,
      ]),
    ];
    const radios = options.map(([words, key]) =>
      this.radio("flow", words, () => this.shown.flow === key, () => {
        this.shown.flow = key;
        this.change();
      }),
    );
    return group("Flow, coloured by", ...radios);
  }

  private cutting(): HTMLElement {
    const axes: (Axis | null)[] = [null, ...AXES];
    const radios = axes.map((axis) =>
      this.radio(
        "cut",
        axis === null ? "whole, no cut" : AXIS_WORDS[axis],
        () => this.shown.cut.axis === axis,
        () => {
          this.answers.cutAlong(axis);
          this.update();
        },
      ),
    );
    this.place.addEventListener("input", () => {
      this.shown.cut.at = Number(this.place.value);
      this.change();
    });
    const at = row(label("cut at", this.place.id), this.number);
    return group("Cut", ...radios, at, this.place, row(this.other));
  }

  private marks(): HTMLElement {
    const words: [keyof Choices["has"], string][] = [
      ["pins", "findings"],
      ["walls", "walls near their limit"],
      ["air", "air that stays when filled"],
      ["stays", "coolant that stays when drained"],
    ];
    const boxes = words
      .filter(([key]) => this.choices.has[key])
      .map(([key, text]) => this.box(text, () => this.shown[key], (on) => (this.shown[key] = on)));
    const steps = [
      button("previous mark", () => this.answers.step(-1)),
      button("next mark", () => this.answers.step(1)),
    ];
    return group("Marks", ...boxes, row(...steps));
  }

  private measuring(): HTMLElement {
    const box = this.box("measure", () => this.shown.measuring, (on) => {
      this.shown.measuring = on;
      this.answers.measure();
    });
    const help = document.createElement("p");
    help.className = "solid-hint";
    help.textContent =
      "Click two places: corners and edges take the pointer. By keys: mark a place, then Enter in the picture " +
      "or the button takes it. Escape ends.";
    this.boxes.push(() => {
      this.take.disabled = !this.shown.measuring;
      help.hidden = !this.shown.measuring;
    });
    return group("Measure", box, row(this.take), help);
  }

  private change(): void {
    this.update();
    this.answers.changed();
  }

  private box(text: string, read: () => boolean, write: (on: boolean) => void): HTMLElement {
    const box = input("checkbox", `${this.prefix}-${text.replace(/\W/g, "-")}`);
    box.addEventListener("change", () => {
      write(box.checked);
      this.change();
    });
    this.boxes.push(() => (box.checked = read()));
    return row(box, label(text, box.id));
  }

  private radio(name: string, text: string, read: () => boolean, write: () => void): HTMLElement {
    const radio = input("radio", `${this.prefix}-${name}-${text.replace(/\W/g, "-")}`);
    radio.name = `${this.prefix}-${name}`;
    radio.addEventListener("change", () => radio.checked && write());
    this.boxes.push(() => (radio.checked = read()));
    return row(radio, label(text, radio.id));
  }
}

function group(title: string, ...children: HTMLElement[]): HTMLFieldSetElement {
  const set = document.createElement("fieldset");
  const legend = document.createElement("legend");
  legend.textContent = title;
  set.append(legend, ...children);
  return set;
}

function row(...children: HTMLElement[]): HTMLElement {
  const line = document.createElement("div");
  line.className = "solid-row";
  line.append(...children);
  return line;
}

function button(text: string, pressed: () => void): HTMLButtonElement {
  const element = document.createElement("button");
  element.type = "button";
  element.textContent = text;
  element.addEventListener("click", pressed);
  return element;
}

function input(type: string, id: string): HTMLInputElement {
  const element = document.createElement("input");
  Object.assign(element, { type, id });
  return element;
}

function label(text: string, id: string): HTMLLabelElement {
  const element = document.createElement("label");
  element.htmlFor = id;
  element.textContent = text;
  return element;
}
