import type { Actions, Region } from "./actions";
import { Asking, MOST_QUEUED, type Asked } from "./asking";
import { Column } from "./column";
import { Conflicts } from "./conflicts";
import { Connection, liveAddress } from "./connection";
import { isLost, make } from "./elements";
import { FileText } from "./file_text";
import { Findings } from "./findings";
import { Ticking } from "./going_on";
import { Head, STARTED_AGAIN } from "./head";
import { Making } from "./making";
import type { FindingDoc, Gesture, KeyChange, Tell, ThingId, Wish } from "./messages";
import { Numbers } from "./numbers";
import { OwnChanges, renumbers } from "./own_changes";
import { createPlanView, type PlanHooks, type PlanView } from "./plan/plan_view";
import { createThingForm, type ThingForm } from "./plan/thing_form";
import { Solid } from "./solid";
import { Start } from "./start";
import { depthOf, FIRST, shownPlan, takeTell, type State } from "./state";
import { Tried } from "./tried";
import { TYPED, undoByKey } from "./undo_keys";
import { countFindings } from "./verdict";
import { Voice } from "./voice";

/** Letters that may tell what an edit does. */
const MOST_SAID = 200;
const OUTSIDE = "The file was changed outside.";
const AWAY = `Not connected, so nothing was changed: is rillplate still running? ${STARTED_AGAIN}`;
const WAITING = `${MOST_QUEUED} edits wait for an answer, so this one was not made. Wait until they are made.`;
const LOST = "the last edit may not have been written: look at the file.";

/** Wishes that change the file. */
const CHANGES: ReadonlySet<Wish["do"]> = new Set(["edit", "text", "undo", "redo", "settle"]);

/** The whole page: what the server tells goes into one state, which all regions show. */
export class Page {
  private state: State = FIRST;
  private connection: Connection | null = null;
  private number = 0;
  private readonly asking = new Asking(() => this.voice.warn(`No answer came: ${LOST}`));
  /** Whether an edit was under way when the connection was lost. */
  private lost = false;
  /** What the last refusal said. */
  private refusal = "";
  private readonly own = new OwnChanges();
  /** Whether the answer to a question is not answered yet. */
  private settling = false;
  /** When the last change was asked for, and when a key was last typed into a field, ms. */
  private askedAt = 0;
  private typedAt = 0;
  private readonly ticking = new Ticking(() => {
    for (const region of this.regions) region.tick?.(this.state);
  });
  private readonly voice = new Voice();
  private readonly actions: Actions;
  private readonly head: Head;
  private readonly findings: Findings;
  private readonly numbers: Numbers;
  private readonly file: FileText;
  private readonly solid: Solid;
  private readonly conflicts: Conflicts;
  private readonly column: Column;
  private readonly regions: Region[];
  private readonly start: Start;
  private readonly work: HTMLElement;
  private readonly tried: Tried;
  private readonly planBox = make("div", { class: "plan-box" });
  private plan!: PlanView;
  private form!: ThingForm;
  /** What of the state the plan shows. */
  private planShown: unknown = null;
  private revisionShown = 0;

  constructor(private readonly root: HTMLElement) {
    this.actions = this.makeActions();
    this.head = new Head(this.actions);
    this.findings = new Findings(this.actions);
    this.numbers = new Numbers(this.actions);
    this.file = new FileText(this.actions);
    const making = new Making(this.actions);
    this.solid = new Solid(this.actions);
    this.start = new Start(this.actions);
    this.conflicts = new Conflicts(this.actions, () => this.focusResult());
    this.regions = [this.head, this.findings, this.numbers, this.file, making, this.solid, this.start];
    this.column = new Column([
      { id: "findings", title: "Findings", content: this.findings.element },
      { id: "numbers", title: "Numbers", content: this.numbers.element },
      { id: "file", title: "File", content: this.file.element },
      { id: "make", title: "Make", content: making.element },
    ]);
    this.tried = new Tried(this.actions);
    const plan = make(
      "section",
      { class: "plan", "aria-labelledby": "plan-title" },
      make("h2", { id: "plan-title", class: "unseen" }, "Plan"),
      this.tried.element,
      this.planBox,
    );
    this.work = make("div", { class: "regions" }, plan, this.column.element, this.solid.element);
  }

  /** Lays the page out and opens the connection. */
  open(): void {
    this.root.append(
      this.head.element,
      this.conflicts.waiting,
      make("main", {}, this.work, this.start.element),
      this.conflicts.dialog,
      this.voice.foot,
      this.voice.polite,
      this.voice.alarm,
    );
    this.plan = createPlanView(this.planBox, this.planHooks());
    this.form = createThingForm(this.numbers.form, {
      edit: (edits, said) => this.edit(edits, said),
      leave: (id) => this.plan.select(id, true),
      middle: () => this.plan.middle(),
      select: (id) => this.actions.select(id),
      routed: () => this.state.problem === null,
      say: (text) => this.voice.say(text, "form"),
    });
    document.addEventListener("keydown", (event) => undoByKey(event, this.state, this.actions));
    document.addEventListener("input", (event) => {
      // Who goes on typing has read what went wrong.
      this.voice.calm();
      if (event.target instanceof Element && event.target.matches(TYPED)) this.typedAt = performance.now();
    });
    this.show(FIRST);
    this.connection = new Connection(liveAddress(location), {
      tell: (told) => this.hear(told),
      connected: (connected) => {
        // Nothing that was asked will be answered: whether it was done the file tells.
        if (!connected) this.lost = this.asking.giveUp() || this.lost;
        this.change({ ...this.state, connected });
        if (connected) this.resume();
      },
    });
  }

  // ---- What comes from the server -----------------------------------------------------------------------------------

  private hear(told: Tell): void {
    switch (told.tell) {
      case "draft":
        this.hearDraft(told);
        return;
      case "places":
        this.plan.showPlaces(told.number, told.thing, told.pitch, told.nodes, told.why);
        return;
      case "done":
        this.own.add(told.revision, this.asking.renumbers(told.number));
        this.hearAnswer(told.number, true, told.revision, told.said);
        return;
      case "refused":
        // While something is in hand it goes on: what the draft tells is then known, and no more.
        if (this.plan.takeRefusal(told.number)) this.voice.say(told.why);
        else {
          this.refusal = told.why;
          this.voice.warn(told.why);
        }
        if (told.number === 0) {
          this.asking.doubt();
          if (this.state.making && !this.state.progress.make) this.change({ ...this.state, making: false });
        }
        this.hearAnswer(told.number, false, 0, "");
        return;
      case "restarted":
        if (told.urgent) this.voice.warn(told.why);
        else this.voice.say(`${told.why}; nothing is lost.`);
        this.plan.askLostAgain();
        break;
      case "conflict":
        this.hearConflict(told);
        return;
      case "file":
        if (this.state.trial?.said && this.state.file?.revision !== told.revision && !this.asking.waits) this.leave();
        if (this.state.file && told.revision > this.state.file.revision && told.by === "editor") {
          this.own.note(told.revision);
          this.voice.say(OUTSIDE, "edit");
          this.voice.note(OUTSIDE);
        }
        break;
      default:
        break;
    }
    this.change(takeTell(this.state, told, performance.now()));
  }

  /** Only the page whose wish led to the question asks it by itself, and not where the hands are at something else. */
  private hearConflict(told: Extract<Tell, { tell: "conflict" }>): void {
    this.change(takeTell(this.state, told, performance.now()));
    if (told.number === undefined) return;
    if (this.settling) this.voice.say("The file has changed since; the question is put again as it now stands.");
    const busy = this.typedAt > this.askedAt || this.plan.drafting;
    this.hearAnswer(told.number, false, 0, "");
    if (busy) this.voice.say("Page and file changed the same lines.");
    else this.conflicts.open();
  }

  private hearDraft(told: Extract<Tell, { tell: "draft" }>): void {
    const trial = this.state.trial;
    if (trial?.said) {
      // A remedy that is tried: no thing is in hand, so the plan has no draft of its own.
      const next = takeTell(this.state, told, performance.now());
      if (next === this.state) return;
      const revision = trial.revision;
      if (told.answer) this.plan.show(told.answer, { revision });
      else if (told.problem) this.plan.showProblem(told.problem, { revision }, this.state.plan?.told ?? null);
      this.change(next);
      return;
    }
    const shown = this.plan.showDraft(told.number, told.answer, told.problem);
    if (!shown || !trial) return;
    // Of a problem the plan before stays in sight; findings and numbers are then those of the file.
    this.change({ ...this.state, trial: { ...trial, answer: told.answer, problem: told.problem } });
  }

  private hearAnswer(number: number, done: boolean, revision: number, said: string): void {
    const asked = this.asking.answer(number, done, revision);
    if (!asked || !done) return;
    this.voice.calm();
    this.voice.say(said || asked.said, "edit");
    // What the edit brought with it, beside what was asked for, is seen too.
    this.voice.note(said.startsWith(`${asked.said}; `) ? said : "");
  }

  /** The connection is there again: what it lost on its way is told, and asked again where that changes nothing. */
  private resume(): void {
    if (this.lost) this.voice.warn(`The connection was lost: ${LOST}`);
    this.lost = false;
    this.plan.askLostAgain();
  }

  private change(state: State): void {
    const before = this.state;
    this.state = state;
    this.show(before);
  }

  // ---- What is shown ------------------------------------------------------------------------------------------------

  private show(before: State): void {
    const { state } = this;
    const starts = state.file !== null && !state.file.exists;
    const began = before.file !== null && !before.file.exists && !starts;
    const focused = document.activeElement;
    // Why something was refused is gone with the errors of the file, or with what kept it from a layout.
    if (before.problem && !state.problem) this.voice.calm(this.refusal);
    this.start.element.hidden = !starts;
    this.work.hidden = starts;
    for (const region of this.regions) region.show(state, before);
    this.ticking.show(state);
    this.conflicts.show(state);
    this.showPlan();
    const plan = shownPlan(state);
    this.form.show(state.trial?.answer?.plan ?? this.plan.drawn, state.selected);
    const counts = plan ? countFindings(plan.findings) : null;
    this.column.mark("findings", state.problem ? "!" : counts ? String(counts.fault + counts.caution || "") : "");
    this.column.mark("file", this.file.unsaved ? "unsaved" : "");
    this.column.mark("make", state.making ? "…" : "");
    this.tried.show(state);
    this.planBox.classList.toggle("trying", Boolean(state.trial?.said));
    Object.assign(document.documentElement.dataset, {
      connected: String(state.connected),
      revision: String(state.file?.revision ?? 0),
      shown: depthOf(state),
      problem: state.problem?.problem.kind ?? "",
      make: state.making ? "making" : state.made ? (state.made.files.length ? "made" : "withheld") : "none",
    });
    if (began) this.showBegun();
    else if (focused && focused !== document.body && isLost(document.activeElement)) this.focusResult();
  }

  /** The file is there: its plan is what one looks at now. */
  private showBegun(): void {
    this.voice.calm();
    window.scrollTo(0, 0);
    this.planBox.querySelector<SVGElement>(".plan-stage")?.focus({ preventScroll: true });
  }

  /** What had the keyboard went with what it did: it goes to the heading of what is shown beside the plan. */
  private focusResult(): void {
    if (this.work.hidden) this.start.focus();
    else document.getElementById(`${this.column.shown}-title`)?.focus({ preventScroll: true });
  }

  /** Hands the plan to its view where it is another; a remedy that is tried stays in sight until it is left. */
  private showPlan(): void {
    const { plan, problem, trial, selected } = this.state;
    const wanted = problem ?? plan;
    if (trial?.said || wanted === this.planShown || !wanted) return;
    // The problem of a text that has changed since is gone: nothing older takes its place.
    if (wanted.revision < this.revisionShown) return;
    this.planShown = wanted;
    this.revisionShown = wanted.revision;
    if (problem) {
      this.plan.showProblem(problem.problem, { revision: problem.revision }, plan?.told ?? null);
    } else if (plan) {
      this.plan.show(plan.told, { revision: plan.revision });
      this.plan.select(selected);
    }
  }

  // ---- What is asked ------------------------------------------------------------------------------------------------

  private send(wish: Wish): boolean {
    if (this.connection?.send(wish)) {
      if (CHANGES.has(wish.do)) this.askedAt = performance.now();
      return true;
    }
    this.voice.warn(AWAY);
    return false;
  }

  /** Asks for a change of the file; false where it could not even be asked for. */
  private ask(wish: Extract<Wish, { do: "edit" | "text" | "undo" | "redo" | "settle" }>, asked: Asked): boolean {
    if (!this.send(wish)) return false;
    this.asking.add(wish.number, asked);
    return true;
  }

  private get revision(): number {
    return this.state.file?.revision ?? 0;
  }

  /** Of the text whose things are drawn: a problem that has none leaves those of the plan before. */
  private get revisionDrawn(): number {
    const { problem, plan } = this.state;
    return problem && !problem.problem.plan && plan ? plan.revision : this.revisionShown;
  }

  private makeActions(): Actions {
    return {
      edit: (edits, said, shown) => this.edit(edits, said, shown),
      tryChanges: (changes, said, shown) => this.tryChanges(changes, said, shown),
      keepTrial: () => {
        if (this.state.trial?.said) this.edit(this.tried.edits, this.state.trial.said, this.tried.taken);
      },
      leaveTrial: () => {
        this.leave();
        this.voice.say("Left as it is in the file.");
      },
      undo: () => this.step("undo"),
      redo: () => this.step("redo"),
      writeText: (text, revision, answered) => {
        const number = ++this.number;
        return this.ask(
          { do: "text", number, revision, text },
          { said: "The text is written.", renumbers: true, answered },
        );
      },
      settle: (take) => this.settle(take),
      make: () => {
        if (this.send({ do: "make" })) this.change({ ...this.state, making: true });
      },
      stopMaking: () => void this.send({ do: "stop making" }),
      startDemo: (demo) => void this.send({ do: "start", demo }),
      startForm: (form) => void this.send({ do: "start", form }),
      showFinding: (finding) => this.showFinding(finding),
      showLine: (line) => {
        this.column.choose("file");
        this.file.goTo(line);
      },
      select: (id) => {
        this.plan.select(id);
        this.selected(id, false);
      },
      say: (text) => this.voice.say(text),
      alert: (text) => this.voice.alert(text),
      warn: (text) => this.voice.warn(text),
    };
  }

  private planHooks(): PlanHooks {
    return {
      draft: (edits) => this.draft(edits),
      edit: (edits, said, taken) => this.edit(edits, said, taken),
      places: (thing) => {
        const number = ++this.number;
        this.connection?.send({ do: "places", number, thing });
        return number;
      },
      selected: (id) => this.selected(id, true),
      openNumbers: () => {
        this.column.choose("numbers");
        this.form.focus();
      },
      finding: (number) => {
        this.column.choose("findings");
        this.findings.focus(number);
      },
      say: (text) => this.voice.say(text, "plan"),
    };
  }

  private draft(edits: Gesture[]): number | null {
    const number = ++this.number;
    const { state } = this;
    const revision = this.own.pass(this.revisionDrawn, edits);
    if (!edits.length) {
      this.connection?.send({ do: "draft", number, revision, edits });
      if (state.trial) this.change({ ...state, trial: null });
      return number;
    }
    // A remedy that was tried is left for what is in hand.
    if (state.trial?.said) this.endTrial();
    if (!this.send({ do: "draft", number, revision, edits })) return null;
    const { answer, problem } = this.state.trial ?? { answer: null, problem: null };
    this.change({ ...this.state, trial: { number, revision: this.revision, said: "", answer, problem } });
    return number;
  }

  private step(way: "undo" | "redo"): void {
    const asked = { said: "", renumbers: true, answered: () => {} };
    const walk = () => void this.ask({ do: way, number: ++this.number, revision: this.revision }, asked);
    if (!this.asking.inTurn(walk)) this.voice.warn(WAITING);
  }

  /** `taken`: the revision that was shown when it was meant; what another changed since then is asked about. */
  private edit(edits: Gesture[], words: string, taken = this.revisionDrawn): void {
    if (this.asking.inTurn(() => this.askEdit(edits, words, taken))) return;
    this.voice.warn(WAITING);
    this.dropTrial();
  }

  private askEdit(edits: Gesture[], words: string, taken: number): void {
    const signs = Array.from(words); // Whole signs: half of one is no text.
    const said = signs.length > MOST_SAID ? `${signs.slice(0, MOST_SAID - 1).join("")}…` : words;
    const number = ++this.number;
    const now = this.revision;
    const revision = this.own.pass(taken, edits);
    const asked = this.ask(
      { do: "edit", number, revision, edits, said },
      {
        said,
        renumbers: renumbers(edits),
        answered: (done, then) => {
          // Where nothing was changed no new plan comes that would take the draft's place.
          if (!done || then === now) this.dropTrial();
          else if (this.state.trial) this.change({ ...this.state, trial: { ...this.state.trial, written: true } });
        },
      },
    );
    if (!asked) this.dropTrial();
  }

  private tryChanges(changes: KeyChange[], said: string, shown: number): void {
    this.dropTrial();
    const number = ++this.number;
    const { revision } = this;
    const edits = [{ changes }];
    const taken = this.own.pass(shown, edits);
    if (!this.send({ do: "draft", number, revision: taken, edits })) return;
    this.tried.hold(edits, taken);
    this.change({ ...this.state, trial: { number, revision, said, answer: null, problem: null } });
    this.tried.focus();
  }

  /** Ends what is tried on the server too. */
  private leave(): void {
    this.connection?.send({ do: "draft", number: ++this.number, revision: this.revision, edits: [] });
    this.dropTrial();
  }

  private dropTrial(): void {
    this.plan.dropDraft();
    this.endTrial();
  }

  private endTrial(): void {
    if (!this.state.trial) return;
    if (this.state.trial.said) this.planShown = null;
    this.change({ ...this.state, trial: null });
  }

  private settle(take: "page" | "file"): void {
    const [first] = this.state.conflicts;
    if (!first || this.settling) return;
    const number = ++this.number;
    this.settling = this.ask(
      { do: "settle", number, revision: this.revision, conflict: first.conflict, take },
      {
        said: "",
        renumbers: true,
        answered: (done) => {
          this.settling = false;
          if (done) this.file.settled();
          // Why not is told below the question.
          else this.conflicts.close();
        },
      },
    );
  }

  private showFinding(finding: FindingDoc): void {
    this.plan.markFinding(finding);
    const at = finding.at;
    this.plan.flyTo(at ? [at[0], at[1]] : null, finding.things[0] ?? null);
    this.solid.showFinding(finding);
    this.voice.say(`Shown in the plan: ${finding.text}`);
  }

  private selected(id: ThingId | null, inPlan: boolean): void {
    if (id === this.state.selected) return;
    this.change({ ...this.state, selected: id });
    if (id && inPlan) this.solid.showThing(id);
  }
}
