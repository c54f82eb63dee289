import type { Actions, Region } from "./actions";
import { button, make, tell } from "./elements";
import type { FileTold, PlanDoc, ThingId } from "./messages";
import { shownPlan, shownProblem, type State } from "./state";

/** The file as it stands, with line numbers; it can be edited here too. Tab leaves the field. */
export class FileText implements Region {
  readonly element: HTMLElement;
  private readonly area: HTMLTextAreaElement;
  private readonly lines = make("div", { class: "lines", "aria-hidden": "true" });
  private readonly errors = make("ul", { class: "told file-errors", "aria-label": "Errors of the file" });
  private readonly status = make("p", { class: "soft file-status", role: "status" });
  private readonly notice: HTMLElement;
  private readonly write: HTMLButtonElement;
  private readonly revert: HTMLButtonElement;
  /** The file as it was told, and the same with the line ends that the field gives back. */
  private told: FileTold | null = null;
  private file: FileTold | null = null;
  /** The text that what is typed was made from. */
  private base: { revision: number; text: string } = { revision: 0, text: "" };
  /** What was sent and is not answered yet. */
  private sent: string | null = null;
  /** What was sent and led to a question. */
  private questioned: string | null = null;
  private mostBytes = Infinity;
  private marks = "";

  constructor(private readonly actions: Actions) {
    this.area = make("textarea", {
      id: "file-text",
      wrap: "off",
      spellcheck: "false",
      autocapitalize: "off",
      autocomplete: "off",
      "aria-describedby": "file-hint",
    });
    this.area.addEventListener("input", () => this.typed());
    this.area.addEventListener("keydown", (event) => {
      if (event.key.toLowerCase() !== "s" || !(event.ctrlKey || event.metaKey)) return;
      event.preventDefault();
      this.send();
    });
    addEventListener("beforeunload", (event) => this.unsaved && event.preventDefault());
    this.write = button("write to the file", () => this.send(), { class: "first", "aria-keyshortcuts": "Control+S" });
    this.revert = button("drop my text", () => this.adopt());
    this.notice = make(
      "div",
      { class: "notice", role: "status", hidden: true },
      make(
        "p",
        {},
        "The file was changed outside since. Your text is kept: writing it puts both together, and asks where both " +
          "changed the same lines.",
      ),
    );
    this.element = make(
      "div",
      { class: "file" },
      make("label", { for: "file-text", class: "unseen" }, "Text of the panel file"),
      make(
        "div",
        { class: "file-head" },
        make("div", { class: "buttons" }, this.write, this.revert, this.status),
        this.notice,
      ),
      this.errors,
      make("div", { class: "editor" }, this.lines, this.area),
      make("p", { id: "file-hint", class: "soft" }, "Control and S writes the text to the file. Tab leaves the field."),
    );
  }

  get unsaved(): boolean {
    return this.file !== null && this.area.value !== this.base.text;
  }

  show(state: State): void {
    this.mostBytes = state.hello?.most_bytes ?? Infinity;
    if (state.file && state.file !== this.told) {
      this.told = state.file;
      this.takeFile({ ...state.file, text: plainEnds(state.file.text) });
    }
    this.showErrors(state);
    this.mark(state);
    this.refresh(state.connected);
  }

  focus(): void {
    this.area.focus({ preventScroll: true });
  }

  /** Puts the caret on a line, with the line in the middle of what is seen. */
  goTo(line: number): void {
    const starts = startsOf(this.area.value);
    const from = starts[Math.min(line, starts.length) - 1] ?? 0;
    const end = this.area.value.indexOf("\n", from);
    this.area.focus({ preventScroll: true });
    this.area.setSelectionRange(from, end < 0 ? this.area.value.length : end);
    this.lines.children[line - 1]?.scrollIntoView({ block: "center" });
  }

  /** The reader chose between the file and what was asked for; where that was this text, it is no longer unsaved. */
  settled(): void {
    const mine = this.questioned === this.area.value;
    this.questioned = null;
    if (mine) this.adopt();
  }

  private takeFile(file: FileTold): void {
    const first = this.file === null;
    const clean = !this.unsaved;
    this.file = file;
    if (first || clean || file.text === this.area.value) this.adopt();
    else if (file.text === this.base.text) this.base = { revision: file.revision, text: file.text };
  }

  /** Takes the file's text; the caret and what is seen stay. */
  private adopt(): void {
    if (!this.file) return;
    const { text, revision } = this.file;
    this.base = { revision, text };
    if (this.area.value !== text) {
      const { selectionStart, selectionEnd } = this.area;
      this.area.value = text;
      this.area.setSelectionRange(selectionStart, selectionEnd);
      this.layLines();
    }
    this.refresh(true);
  }

  private typed(): void {
    this.layLines();
    this.refresh(true);
  }

  private send(): void {
    if (!this.unsaved) return;
    const text = this.area.value;
    if (new TextEncoder().encode(text).length > this.mostBytes) {
      this.actions.warn(`The text is longer than the ${this.mostBytes} bytes that a panel file may have.`);
      return;
    }
    const asked = this.actions.writeText(text, this.base.revision, (done) => {
      this.sent = null;
      if (!done) this.questioned = text;
      // What was typed while it was written is still unsaved, and still made from the same text as before.
      if (done && this.area.value === text) this.adopt();
      this.refresh(true);
    });
    if (asked) this.sent = text;
    this.refresh(true);
  }

  private refresh(connected: boolean): void {
    const { unsaved } = this;
    this.write.disabled = !unsaved || !connected || this.sent !== null;
    this.revert.hidden = !unsaved;
    const changed = unsaved && this.file !== null && this.file.text !== this.base.text;
    this.notice.hidden = !changed || this.sent !== null;
    this.element.dataset.unsaved = String(unsaved);
    const kept = unsaved ? "Not yet written to the file." : "As the file is.";
    tell(this.status, this.sent !== null ? "Being written." : kept);
  }

  private layLines(): void {
    const count = this.area.value.split("\n").length;
    // One row more: where a line is too long the scroll bar takes one.
    this.area.rows = count + 1;
    while (this.lines.childElementCount > count) this.lines.lastElementChild!.remove();
    while (this.lines.childElementCount < count) {
      this.lines.append(make("div", {}, String(this.lines.childElementCount + 1)));
    }
    this.marks = "";
  }

  private showErrors(state: State): void {
    const problem = shownProblem(state);
    const told = problem?.kind === "file" ? problem.told : [];
    const key = JSON.stringify(told);
    if (this.errors.dataset.told === key) return;
    this.errors.dataset.told = key;
    this.errors.hidden = told.length === 0;
    this.errors.replaceChildren(
      ...told.map(({ line, text }) =>
        make(
          "li",
          {},
          line > 0 ? button(`line ${line}`, () => this.goTo(line), { class: "line" }) : "",
          ` ${text}`,
        ),
      ),
    );
  }

  private mark(state: State): void {
    const problem = shownProblem(state);
    const wrong = new Set(problem?.kind === "file" ? problem.told.map(({ line }) => line) : []);
    const plan = shownPlan(state)?.plan ?? null;
    const [from, to] = linesOf(plan, state.selected, this.area.value);
    const key = `${[...wrong].join()} ${from} ${to}`;
    if (key === this.marks) return;
    this.marks = key;
    [...this.lines.children].forEach((line, k) => {
      line.classList.toggle("wrong", wrong.has(k + 1));
      line.classList.toggle("mine", from <= k + 1 && k + 1 <= to);
    });
  }
}

/** A text as a field holds it; the server puts the file's own line ends back. */
function plainEnds(text: string): string {
  return text.replace(/\r\n?/g, "\n");
}

function startsOf(text: string): number[] {
  const starts = [0];
  for (let at = text.indexOf("\n"); at >= 0; at = text.indexOf("\n", at + 1)) starts.push(at + 1);
  return starts;
}

/** The first and last line of a thing: its table, or the one line of it; 1 and 0 where the file has none. */
function linesOf(plan: PlanDoc | null, id: ThingId | null, text: string): [number, number] {
  const things = plan ? [...plan.ports, ...plan.clears, plan.tank, plan.pump] : [];
  const from = things.find((thing) => thing.id === id)?.line ?? 0;
  if (from < 1) return [1, 0];
  const lines = text.split("\n");
  let to = from;
  if (/^\s*\[/.test(lines[from - 1] ?? "")) {
    while (to < lines.length && !/^\s*\[/.test(lines[to] ?? "")) to++;
    while (to > from && /^\s*(#.*)?$/.test(lines[to - 1] ?? "")) to--;
  }
  return [from, to];
}
