import type { Gesture } from "./messages";

/** Revisions that this page made: an edit made on the text before them does not contradict them. */
export class OwnChanges {
  /** For each, whether regions or entries of the file may have other numbers since. */
  private readonly made = new Map<number, boolean>();
  private heardOutside = 0;

  /** Another program made a revision. */
  note(revision: number): void {
    this.heardOutside = revision;
  }

  /** A change of this page is done. */
  add(revision: number, renumbers: boolean): void {
    // Of a change that changed nothing the revision is that of before: whoever made that.
    if (revision > this.heardOutside) this.made.set(revision, renumbers);
  }

  /** The newest revision that differs from one by changes of this page alone, and in which edits mean the same things. */
  pass(revision: number, edits: Gesture[]): number {
    // Where something stands or runs is known of what is drawn, not yet of what came since.
    if (edits.some((edit) => "keep" in edit || "pin" in edit)) return revision;
    const counted = edits.some(isCounted);
    let passed = revision;
    for (;;) {
      const renumbers = this.made.get(passed + 1);
      if (renumbers === undefined || (renumbers && counted)) return passed;
      passed++;
    }
  }
}

/** Whether edits may leave regions or entries of the file with other numbers: what comes is put last. */
export function renumbers(edits: Gesture[]): boolean {
  return edits.some((edit) =>
    "changes" in edit
      ? edit.changes.some(({ path, value }) => value === null && typeof path.at(-1) === "number")
      : "remove" in edit,
  );
}

/** Whether an edit means something by its number: a region, an entry of a list. */
function isCounted(edit: Gesture): boolean {
  if ("changes" in edit) return edit.changes.some(({ path }) => path.some((key) => typeof key === "number"));
  return Object.values(edit).some((value) => typeof value === "string" && value.startsWith("clear:"));
}
