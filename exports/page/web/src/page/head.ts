import type { Actions, Region } from "./actions";
import { button, make, tell } from "./elements";
import { secondsOf } from "./going_on";
import { makeSchemeSwitch } from "./scheme_switch";
import { drawSign } from "./signs";
import { depthOf, shownPlan, shownProblem, type Progress, type State } from "./state";
import { judge } from "./verdict";

export const STARTED_AGAIN = "If you started it again, open the address that it printed.";

/** The line above all: which panel, how it is judged, undo and redo, what is being worked out. */
export class Head implements Region {
  readonly element: HTMLElement;
  private readonly name = make("h1", {}, "rillplate");
  private readonly file = make("p", { class: "soft file-name" });
  private readonly verdict = make("p", { class: "judged" });
  private readonly proof = make("p", { class: "soft proof" });
  private readonly undo: HTMLButtonElement;
  private readonly redo: HTMLButtonElement;
  private readonly work = make("div", { class: "work" });
  private readonly away = make("p", { class: "away", role: "alert" });
  private judged = "";

  constructor(private readonly actions: Actions) {
    this.undo = button("undo", () => actions.undo(), { "aria-keyshortcuts": "Control+Z", disabled: true });
    this.redo = button("redo", () => actions.redo(), { "aria-keyshortcuts": "Control+Y", disabled: true });
    this.element = make(
      "header",
      { class: "head" },
      make("div", { class: "who" }, this.name, this.file),
      make("div", { class: "verdict" }, this.verdict, this.proof),
      make("div", { class: "steps" }, this.undo, this.redo),
      this.work,
      makeSchemeSwitch(),
      this.away,
    );
    // What sticks below it, and how tall the plan may be, goes by how tall it is.
    new ResizeObserver(() => {
      document.documentElement.style.setProperty("--head", `${this.element.offsetHeight}px`);
    }).observe(this.element);
  }

  show(state: State): void {
    const plan = shownPlan(state);
    const file = state.file?.name ?? state.hello?.file ?? "";
    tell(this.name, plan?.plan.name || file || "rillplate");
    tell(this.file, file);
    document.title = `${this.name.textContent}: rillplate`;
    const away = `Not connected: is rillplate still running? It is tried again. ${STARTED_AGAIN}`;
    tell(this.away, state.connected ? "" : away);
    this.showVerdict(state);
    const proof = plan ? plan.proof : "";
    tell(this.proof, proof && state.file?.exists && depthOf(state) !== "older" && !shownProblem(state) ? `Layout: ${proof}` : "");
    // Of a file that is gone its text must be written again first.
    const { undo, redo } = state.file?.exists ? state.file : { undo: null, redo: null };
    this.showStep(this.undo, "undo", undo, state.connected);
    this.showStep(this.redo, "redo", redo, state.connected);
    this.showWork("plan", state.progress.plan);
    this.showWork("solid", state.progress.solid);
  }

  /** Seconds go on while a stage lasts. */
  tick(state: State): void {
    this.showWork("plan", state.progress.plan);
    this.showWork("solid", state.progress.solid);
  }

  private showVerdict(state: State): void {
    const verdict = state.file?.exists === false ? null : judge(state);
    const text = verdict ? [verdict.word, verdict.counted, verdict.soFar].join("|") : "";
    if (text === this.judged) return;
    this.judged = text;
    if (!verdict) {
      this.verdict.replaceChildren();
      return;
    }
    const { sign, word, counted, soFar } = verdict;
    this.verdict.replaceChildren(
      drawSign(sign),
      make("strong", { class: sign }, word),
      counted && ` ${counted}`,
      make("span", { class: "soft" }, soFar && ` (${soFar})`),
    );
    // A draft's verdict changes with each step of a drag.
    if (!state.trial || state.trial.said) {
      this.actions.say(`${[word, counted].filter(Boolean).join(": ")}${soFar && ` (${soFar})`}.`);
    }
  }

  private showStep(step: HTMLButtonElement, word: string, what: string | null, connected: boolean): void {
    step.disabled = what === null || !connected;
    const words = what ? `${word}: ${what}` : `nothing to ${word}`;
    step.setAttribute("aria-label", words);
    step.title = words;
  }

  private showWork(of: "plan" | "solid", progress: Progress | null): void {
    const known = this.work.querySelector(`[data-of="${of}"]`);
    if (!progress) {
      known?.remove();
      return;
    }
    const line =
      known ?? this.work.appendChild(make("div", { "data-of": of }, make("span"), make("progress", { max: 1 })));
    const words = `${of}, ${secondsOf(progress)} s: ${progress.stage}`;
    tell(line.firstElementChild!, words);
    line.setAttribute("title", words);
    const bar = line.querySelector("progress")!;
    bar.setAttribute("aria-label", `${of} being worked out`);
    if (progress.share === null) bar.removeAttribute("value");
    else bar.value = progress.share;
  }
}
