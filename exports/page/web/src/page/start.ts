import type { Actions, Region } from "./actions";
import { button, make, tell } from "./elements";
import type { FileTold, StartForm, StartLimits } from "./messages";
import { Field, bound, makeNumber } from "./start_fields";
import { StartParts } from "./start_parts";
import type { State } from "./state";

/** What a number of the form is at first, and its unit; what it may be the server says, which checks it again. */
const NUMBERS = {
  width: { words: "Width", first: 300, unit: "mm" },
  height: { words: "Height", first: 200, unit: "mm" },
  flow: { words: "Flow that is wanted", first: 2, unit: "L/min" },
} as const;

const CLOSINGS: Record<StartForm["closing"], string> = {
  cord: "screwed cover on a sealing cord",
  bonded: "bonded cover",
  "one-piece": "printed in one piece",
};

/** Where there is no file yet: from a demo, or from a short form. */
export class Start implements Region {
  readonly element = make("section", { class: "start", "aria-labelledby": "start-title" });
  private readonly demos = make("ul", { class: "demos" });
  private readonly title = make("h2", { id: "start-title", tabindex: "-1" });
  private readonly ways: HTMLElement;
  private readonly again: HTMLElement;
  private file: FileTold | null = null;
  private told = "";
  private formed = false;

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
    this.again = make(
      "div",
      { class: "card again", hidden: true },
      make("h3", {}, "The text that it had"),
      make("p", {}, "It was there until another program removed it; its last text is known."),
      button("write its last text again", () => this.writeAgain(), { class: "first" }),
    );
    this.element.append(this.title, this.again, this.ways);
  }

  show(state: State): void {
    leadSkip(state.file?.exists === false);
    this.file = state.file;
    this.again.hidden = !state.file || state.file.exists || !state.file.text;
    const demos = state.hello?.demos ?? [];
    tell(this.title, `${state.file?.name ?? state.hello?.file ?? "The file"} is not there yet: begin it`);
    if (state.hello && !this.formed) {
      this.formed = true;
      this.ways.append(this.makeForm(state.hello.limits));
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

  private writeAgain(): void {
    if (this.file) this.actions.writeText(this.file.text, this.file.revision, () => {});
  }

  focus(): void {
    this.title.focus({ preventScroll: true });
  }

  private makeForm(limits: StartLimits): HTMLFormElement {
    const value = "my panel";
    const name = new Field("Name", make("input", { id: "start-name", required: true, maxlength: limits.letters, value }));
    const closing = make("select", { id: "start-closing" });
    for (const each of limits.closings) closing.append(make("option", { value: each }, CLOSINGS[each]));
    const [width, height, flow] = (["width", "height", "flow"] as const).map((key) => {
      const { words, unit, first } = NUMBERS[key];
      const field = new Field(words, makeNumber(`start-${key}`));
      bound(field, limits[key], unit, first);
      return field;
    }) as [Field<HTMLInputElement>, Field<HTMLInputElement>, Field<HTMLInputElement>];
    const parts = new StartParts(limits);
    const unfit = make("p", { class: "wrong", role: "alert" });
    const form = make(
      "form",
      { class: "card", novalidate: true },
      make("h3", {}, "An empty panel"),
      name.element,
      width.element,
      height.element,
      new Field("Closed by", closing).element,
      flow.element,
      parts.element,
      unfit,
      make("button", { type: "submit", class: "first" }, "begin with this panel"),
    );
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const fields = [name, width, height, flow].filter((field) => !field.check());
      const inParts = parts.check();
      const wrong = fields[0]?.input ?? inParts;
      tell(unfit, wrong ? "Something is missing or cannot be so: it is told beside its field." : "");
      if (wrong) {
        wrong.focus();
        return;
      }
      this.actions.startForm({
        name: name.input.value.trim(),
        width: width.input.valueAsNumber,
        height: height.input.valueAsNumber,
        closing: closing.value as StartForm["closing"],
        flow: flow.input.valueAsNumber,
        parts: parts.read(),
      });
    });
    return form;
  }
}

/** The link at the top leads to what comes after the plan, or to how to begin where there is none. */
function leadSkip(starts: boolean): void {
  const skip = document.querySelector<HTMLAnchorElement>("a.skip");
  if (!skip) return;
  skip.setAttribute("href", starts ? "#start-title" : "#findings-tab");
  tell(skip, starts ? "To the ways to begin" : "Skip the plan");
}
