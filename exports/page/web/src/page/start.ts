import type { Actions, Region } from "./actions";
import { button, make, tell } from "./elements";
import { tellNumber } from "./figures";
import type { StartForm, StartLimits } from "./messages";
import type { State } from "./state";

/** What a number of the form is at first, and its unit; what it may be the server says, which checks it again. */
const NUMBERS = {
  width: { first: 300, unit: "mm" },
  height: { first: 200, unit: "mm" },
  flow: { first: 2, unit: "L/min" },
  heat: { first: 150, unit: "W" },
} as const;
type NumberName = keyof typeof NUMBERS;

const CLOSINGS: Record<StartForm["closing"], string> = {
  cord: "screwed cover on a sealing cord",
  bonded: "bonded cover",
  "one-piece": "printed in one piece",
};

/** Names of the panel's own pieces (`RESERVED` of the server, which checks them again): no part may bear one. */
const BORNE = ["tank", "pump", "drain", "bleed"];

/** Where there is no file yet: from a demo, or from a short form. */
export class Start implements Region {
  readonly element = make("section", { class: "start", "aria-labelledby": "start-title" });
  private readonly demos = make("ul", { class: "demos" });
  private readonly parts = make("ol", { class: "parts" });
  private readonly more = button("one part more", () => this.addPart());
  private readonly wrong = make("p", { class: "wrong", role: "alert" });
  private readonly title = make("h2", { id: "start-title", tabindex: "-1" });
  private readonly ways: HTMLElement;
  private told = "";
  private made = 0;
  private limits: StartLimits | null = null;

  constructor(private readonly actions: Actions) {
    this.ways = make(
      "div",
      { class: "ways" },
      make(
        "div",
        { class: "card" },
        make("h3", {}, "A demo"),
        make("p", { class: "soft" }, "Invented panels, written into the file to be changed."),
        this.demos,
      ),
    );
    this.element.append(this.title, this.ways);
  }

  private makeForm(limits: StartLimits): HTMLFormElement {
    const name = make("input", { id: "start-name", required: true, maxlength: limits.letters, value: "my panel" });
    const closing = make("select", { id: "start-closing" });
    for (const value of limits.closings) closing.append(make("option", { value }, CLOSINGS[value]));
    const width = numberField("start-width", "width", limits);
    const height = numberField("start-height", "height", limits);
    const flow = numberField("start-flow", "flow", limits);
    const form = make(
      "form",
      { class: "card", novalidate: true },
      make("h3", {}, "An empty panel"),
      field("Name", name),
      field("Width", width, tellRange("width", limits)),
      field("Height", height, tellRange("height", limits)),
      field("Closed by", closing),
      field("Flow that is wanted", flow, tellRange("flow", limits)),
      make("fieldset", {}, make("legend", {}, "Parts that are cooled, in the order of flow"), this.parts, this.more),
      this.wrong,
      make("button", { type: "submit", class: "first" }, "begin with this panel"),
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const unfit = this.checkNames();
      if (unfit) {
        tell(this.wrong, "");
        unfit.focus();
        return;
      }
      const wrong = [...form.querySelectorAll("input")].find((input) => !input.validity.valid);
      if (wrong) {
        const { words, range } = wrong.dataset;
        tell(this.wrong, `${words}: ${range ? `must be a number from ${range}` : "is missing"}.`);
        wrong.focus();
        return;
      }
      tell(this.wrong, "");
      this.actions.startForm({
        name: name.value.trim(),
        width: width.valueAsNumber,
        height: height.valueAsNumber,
        closing: closing.value as StartForm["closing"],
        flow: flow.valueAsNumber,
        parts: [...this.parts.children].map((part) => {
          const [title, heat] = part.querySelectorAll("input");
          return { name: title!.value.trim(), heat: heat!.valueAsNumber };
        }),
      });
    });
    return form;
  }

  show(state: State): void {
    const demos = state.hello?.demos ?? [];
    tell(this.title, `${state.file?.name ?? state.hello?.file ?? "The file"} is not there yet: begin it`);
    if (state.hello && !this.limits) {
      this.limits = state.hello.limits;
      this.ways.append(this.makeForm(this.limits));
      this.addPart();
    }
    const key = JSON.stringify(demos);
    if (key === this.told) return;
    this.told = key;
    this.demos.replaceChildren(
      ...demos.map(({ name, said }) =>
        make(
          "li",
          {},
          button(name, () => this.actions.startDemo(name), { "aria-label": `begin with the demo ${name}` }),
          make("p", {}, said),
        ),
      ),
    );
  }

  focus(): void {
    this.title.focus({ preventScroll: true });
  }

  /** Tells beside its field what is wrong with the name of a part; returns the first such field. */
  private checkNames(): HTMLInputElement | null {
    const known = new Set<string>(BORNE);
    let first: HTMLInputElement | null = null;
    for (const part of this.parts.children) {
      const input = part.querySelector("input")!;
      const name = input.value.trim();
      const why = BORNE.includes(name)
        ? "a piece of the panel bears this name"
        : name && known.has(name)
          ? "this name stands twice"
          : "";
      known.add(name);
      input.setCustomValidity(why);
      tell(part.querySelector(".wrong")!, why && `"${name}": ${why}; give each part its own name.`);
      input.setAttribute("aria-invalid", String(Boolean(why)));
      if (why) first ??= input;
    }
    return first;
  }

  private addPart(): void {
    const { limits } = this;
    if (!limits) return;
    const id = ++this.made;
    const [letters, called] = [limits.letters, `block ${id}`];
    const name = make("input", { id: `part-${id}-name`, required: true, maxlength: letters, value: called });
    const heat = numberField(`part-${id}-heat`, "heat", limits);
    const unfit = make("p", { id: `${name.id}-wrong`, class: "wrong", role: "alert" });
    name.setAttribute("aria-describedby", unfit.id);
    // Of two that are the same either may be changed.
    name.addEventListener("input", () => this.checkNames());
    const item = make("li", {}, field("Name", name), unfit, field("Heat", heat, tellRange("heat", limits)));
    const gone = button("leave out", () => {
      item.remove();
      this.checkNames();
      this.count();
      this.more.focus();
    });
    gone.setAttribute("aria-label", `leave out part ${id}`);
    item.append(gone);
    this.parts.append(item);
    this.count();
    if (this.made > 1) name.focus();
  }

  private count(): void {
    this.more.disabled = this.parts.childElementCount >= (this.limits?.parts ?? 0);
    for (const gone of this.parts.querySelectorAll("button")) gone.disabled = this.parts.childElementCount === 1;
  }
}

function numberField(id: string, name: NumberName, limits: StartLimits): HTMLInputElement {
  const [min, max] = limits[name];
  const value = Math.min(Math.max(NUMBERS[name].first, min), max);
  return make("input", { id, type: "number", min, max, step: "any", value, required: true });
}

/** "150 to 600 mm". */
function tellRange(name: NumberName, limits: StartLimits): string {
  const [least, most] = limits[name];
  return `${tellNumber(least)} to ${tellNumber(most)} ${NUMBERS[name].unit}`;
}

function field(words: string, input: HTMLInputElement | HTMLSelectElement, range?: string): HTMLElement {
  const label = make("label", { for: input.id }, words);
  const line = make("div", { class: "field" }, label, input);
  input.dataset.words = words;
  if (range) {
    const hint = make("span", { id: `${input.id}-range`, class: "soft" }, range);
    input.setAttribute("aria-describedby", hint.id);
    input.dataset.range = range;
    line.append(hint);
  }
  return line;
}
