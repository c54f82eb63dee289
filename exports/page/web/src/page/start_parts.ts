import { button, make, tell } from "./elements";
import type { StartLimits, StartPart } from "./messages";
import { Field, bound, makeNumber } from "./start_fields";

/** What each kind asks for in its one number; the first values go together: 150 W warm the coolant by some 8 K. */
const KINDS = {
  cooled: { words: "cooled part", rated: "Heat", unit: "W", limit: "heat", first: 150 },
  radiator: {
    words: "radiator",
    rated: "Heat given off, per kelvin of coolant over air",
    unit: "W/K",
    limit: "capacity",
    first: 20,
  },
} as const;

const ABOUT =
  "From the pump past each of them back to the tank: at least one is cooled, and one a radiator. " +
  "Those beside each other share the flow.";

const WAYS = { after: "after the one before", beside: "beside the one before" };

/** The parts that the loop passes, in the order of flow. */
export class StartParts {
  readonly element = make("fieldset");
  private readonly list = make("ol", { class: "parts" });
  private readonly more: HTMLButtonElement;
  private readonly wrong = make("p", { id: "parts-wrong", class: "wrong" });
  private parts: Part[] = [];
  private made = 0;
  private blocks = 0;

  constructor(private readonly limits: StartLimits) {
    this.more = button("one part more", () => {
      // Before a radiator that is the last: the coolant then comes to the tank cooled.
      const last = this.parts.length - 1;
      const at = last > 0 && this.parts[last]!.kind === "radiator" && !this.parts[last]!.beside ? last : last + 1;
      this.add("cooled", at).focus();
    });
    this.more.setAttribute("aria-describedby", this.wrong.id);
    this.element.append(
      make("legend", {}, "Parts, in the order of flow"),
      make("p", { class: "soft" }, ABOUT),
      this.list,
      this.wrong,
      this.more,
    );
    this.add("cooled", 0);
    this.add("radiator", 1);
  }

  read(): StartPart[] {
    return this.parts.map((part) => part.read());
  }

  /** Says beside its field what is wrong; returns what is to be looked at first, null where all is well. */
  check(): HTMLElement | null {
    const looked = [this.checkNames(), ...this.parts.map((part) => part.check()), this.checkWays()];
    const unfit = looked.find((input) => input !== null);
    const kinds = this.parts.map((part) => part.kind);
    let lacks = "";
    if (!kinds.includes("radiator")) lacks = "a radiator that takes the heat away";
    if (!kinds.includes("cooled")) lacks = "one that is cooled";
    tell(this.wrong, lacks && `Parts: there is none yet of what the loop needs: ${lacks}.`);
    return unfit ?? (lacks ? this.parts[0]!.kindInput : null);
  }

  private checkNames(): HTMLElement | null {
    const known = new Set<string>();
    let first: HTMLElement | null = null;
    for (const { name } of this.parts) {
      const called = name.input.value.trim();
      let why = this.limits.reserved.includes(called)
        ? "a piece of the panel bears this name"
        : known.has(called)
          ? "this name stands twice"
          : "";
      known.add(called);
      if (why) why = `"${called}": ${why}; give each part its own name.`;
      if (!name.complain(called ? why : "Name: is missing.")) first ??= name.input;
    }
    return first;
  }

  /** A channel has only so many ends. */
  private checkWays(): HTMLElement | null {
    const most = this.limits.beside;
    let first: HTMLElement | null = null;
    let together = 0;
    for (const { way, beside } of this.parts) {
      together = beside ? together + 1 : 1;
      const why = `Passed: at most ${most} parts side by side; let this one come after them.`;
      if (!way.complain(together > most ? why : "")) first ??= way.input;
    }
    return first;
  }

  private add(kind: StartPart["kind"], at: number): Part {
    const called = kind === "radiator" ? "radiator" : `block ${++this.blocks}`;
    const part = new Part(++this.made, kind, called, this.limits, () => this.leaveOut(part));
    // Of two that are the same either may be changed.
    part.name.input.addEventListener("input", () => this.checkNames());
    this.list.insertBefore(part.element, this.list.children[at] ?? null);
    this.parts.splice(at, 0, part);
    this.count();
    return part;
  }

  private leaveOut(part: Part): void {
    this.parts = this.parts.filter((one) => one !== part);
    part.element.remove();
    this.checkNames();
    this.count();
    this.more.focus();
  }

  private count(): void {
    this.more.disabled = this.parts.length >= this.limits.parts;
    for (const [at, part] of this.parts.entries()) part.stand(at, this.parts.length === 1);
  }
}

class Part {
  readonly element: HTMLLIElement;
  readonly name: Field<HTMLInputElement>;
  readonly kindInput: HTMLSelectElement;
  private readonly rating: Field<HTMLInputElement>;
  readonly way: Field<HTMLSelectElement>;
  private readonly gone: HTMLButtonElement;

  constructor(
    id: number,
    kind: StartPart["kind"],
    called: string,
    private readonly limits: StartLimits,
    leaveOut: () => void,
  ) {
    const maxlength = limits.letters;
    this.name = new Field("Name", make("input", { id: `part-${id}-name`, required: true, maxlength, value: called }));
    this.kindInput = make("select", { id: `part-${id}-kind` });
    for (const [value, { words }] of Object.entries(KINDS)) {
      this.kindInput.append(make("option", { value, selected: value === kind }, words));
    }
    this.rating = new Field("", makeNumber(`part-${id}-rating`));
    this.way = new Field("Passed", make("select", { id: `part-${id}-way` }));
    for (const [value, words] of Object.entries(WAYS)) this.way.input.append(make("option", { value }, words));
    this.gone = button("leave out", leaveOut);
    this.element = make(
      "li",
      {},
      this.name.element,
      new Field("Kind", this.kindInput).element,
      this.rating.element,
      this.way.element,
      this.gone,
    );
    this.kindInput.addEventListener("change", () => this.ask());
    this.ask();
  }

  get kind(): StartPart["kind"] {
    return this.kindInput.value as StartPart["kind"];
  }

  get beside(): boolean {
    return !this.way.element.hidden && this.way.input.value === "beside";
  }

  read(): StartPart {
    return {
      name: this.name.input.value.trim(),
      kind: this.kind,
      rating: this.rating.input.valueAsNumber,
      beside: this.beside,
    };
  }

  check(): HTMLElement | null {
    return this.rating.check() ? null : this.rating.input;
  }

  focus(): void {
    this.name.input.focus();
  }

  /** The first has none before it; the only one must stay. */
  stand(at: number, alone: boolean): void {
    this.way.element.hidden = at === 0;
    this.gone.disabled = alone;
    this.gone.setAttribute("aria-label", `leave out part ${at + 1}`);
  }

  /** Asks for the number that goes with the kind. */
  private ask(): void {
    const { rated, unit, limit, first } = KINDS[this.kind];
    this.rating.rename(rated);
    bound(this.rating, this.limits[limit], unit, first);
    this.rating.complain("");
  }
}
