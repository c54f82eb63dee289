import type { FindingDoc, Gesture, KeyChange, StartForm, ThingId } from "./messages";
import type { State } from "./state";

/** What a region of the page may ask of the page. */
export interface Actions {
  /** Makes edits for good, which were offered with what was shown of a revision. */
  edit(edits: Gesture[], said: string, shown: number): void;
  /** Tries changes without writing them, which were offered with what was shown of a revision. */
  tryChanges(changes: KeyChange[], said: string, shown: number): void;
  keepTrial(): void;
  leaveTrial(): void;
  undo(): void;
  redo(): void;
  /** Writes the whole text, made from that of a revision; `answered` hears whether it was done. */
  writeText(text: string, revision: number, answered: (done: boolean) => void): boolean;
  settle(take: "page" | "file"): void;
  make(): void;
  stopMaking(): void;
  startDemo(name: string): void;
  startForm(form: StartForm): void;
  showFinding(finding: FindingDoc): void;
  showLine(line: number): void;
  select(id: ThingId | null): void;
  /** Says politely what changed. */
  say(text: string): void;
  /** Says at once what is seen elsewhere on the page. */
  alert(text: string): void;
  /** Says and shows at once what went wrong. */
  warn(text: string): void;
}

/** A part of the page: shows a state, given the one before. */
export interface Region {
  readonly element: HTMLElement;
  show(state: State, before: State): void;
  /** A second more has passed. */
  tick?(state: State): void;
}
