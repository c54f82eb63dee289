import type { Actions } from "./actions";
import { button, make, tell } from "./elements";
import type { Gesture } from "./messages";
import type { State } from "./state";

/** Above the plan: the remedy that is tried there, to be kept or left. */
export class Tried {
  private readonly said = make("span");
  private readonly ways: HTMLButtonElement[];
  readonly element: HTMLElement;
  /** What is tried, and the revision on which it was meant. */
  edits: Gesture[] = [];
  taken = 0;

  constructor(actions: Actions) {
    this.ways = [
      button("keep", () => actions.keepTrial(), { class: "first" }),
      button("leave", () => actions.leaveTrial()),
    ];
    this.element = make(
      "div",
      { class: "tried", role: "group", "aria-label": "What is tried", hidden: true },
      this.said,
      ...this.ways,
    );
  }

  hold(edits: Gesture[], taken: number): void {
    this.edits = edits;
    this.taken = taken;
  }

  show({ trial }: State): void {
    this.element.hidden = !trial?.said;
    for (const way of this.ways) way.hidden = Boolean(trial?.written);
    const how = trial?.written ? "Written; the plan follows" : "Tried, not written";
    tell(this.said, trial?.said ? `${how}: ${trial.said}` : "");
  }

  /** Brings it into sight, and the keyboard to its first way out. */
  focus(): void {
    this.element.scrollIntoView({ block: "nearest" });
    this.ways[0]?.focus();
  }
}
