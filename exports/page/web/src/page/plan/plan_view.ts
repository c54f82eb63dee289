import type { FindingDoc, Gesture, PlanDoc, PlanTold, ProblemDoc, ThingId, Xy } from "../messages";
import { PlanStage } from "./stage";

/** What channels are coloured by. */
export type Quantity = "velocity" | "drop";

/** Of which face channels, cords and screws are drawn in full; those of the other one are dimmed. */
export type Faces = "both" | "front" | "back";

/** What the plan asks of the page around it. Numbers are the page's: it counts what it sends. */
export interface PlanHooks {
  /** Tries edits without writing them; [] ends that. Returns the number under which they were sent; null: not connected. */
  draft(edits: Gesture[]): number | null;
  /**
   * Makes edits for good; `said` tells them in words ("move port fill to (75, 135) mm"). `taken`: the revision that was
   * shown when the thing was taken up; what another program changed since then is not written over unasked.
   */
  edit(edits: Gesture[], said: string, taken?: number): void;
  /** Asks where a thing may stand, and returns the number under which it was asked. */
  places(thing: ThingId): number;
  /** Another thing, or none, is selected. */
  selected(id: ThingId | null): void;
  /** Enter on a thing, or a double click: put the focus into its form. */
  openNumbers(id: ThingId): void;
  /** The mark of a finding was clicked. */
  finding(number: number): void;
  /** Says a text in a polite live region. */
  say(text: string): void;
}

export interface ShowOptions {
  revision: number;
}

export interface PlanView {
  /** Shows the plan of a revision. What is being dragged stays in hand; a draft that was made an edit of ends. */
  show(told: PlanTold, options: ShowOptions): void;
  /**
   * There is no plan of this revision: things are drawn as the file has them, with the faded routes of the last plan if
   * they are the same things, and the places of the problem. All of them may be moved.
   */
  showProblem(problem: ProblemDoc, options: ShowOptions, last: PlanTold | null): void;
  /**
   * Shows the answer to a draft and returns whether it did: one that is older than what is shown, or of an earlier try,
   * is ignored, and belongs nowhere else. It takes every answer: the next draft waits for that to the last.
   */
  showDraft(number: number, answer: PlanTold | null, problem: ProblemDoc | null): boolean;
  /** A wish was refused: its answer is not waited for. Returns whether it asked where the thing in hand may stand. */
  takeRefusal(number: number): boolean;
  /** Answers may be lost, after a new connection or a new process: what is waited for is asked again. */
  askLostAgain(): void;
  /** Shades where the thing in hand may stand; stale answers are ignored. */
  showPlaces(number: number, thing: ThingId, pitch: number, nodes: Xy[], why: string): void;
  /** Lets go of what is in hand and of drafts: an edit was refused or overtaken. Asks for nothing. */
  dropDraft(): void;
  /** Selects a thing without calling `selected`; `focus` also puts the keyboard there. */
  select(id: ThingId | null, focus?: boolean): void;
  /** Brings a place, and a thing if named, into the middle, near enough to see it. */
  flyTo(at: Xy | null, id?: ThingId | null): void;
  /** Marks the finding that is looked at; null none. */
  markFinding(finding: FindingDoc | null): void;
  /** The middle of what is seen, on the grid, mm. */
  middle(): Xy;
  /** The plan that is drawn while nothing is tried; null: none yet. */
  readonly drawn: PlanDoc | null;
  /** Whether a draft is in hand. */
  readonly drafting: boolean;
  dispose(): void;
}

/** Makes the plan inside an element that has a size of its own. */
export function createPlanView(element: HTMLElement, hooks: PlanHooks): PlanView {
  return new PlanStage(element, hooks);
}
