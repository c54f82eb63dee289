import type { FindingDoc, ProblemDoc } from "./messages";
import type { Sign } from "./signs";
import { depthOf, findingsLeft, isChecked, shownPlan, shownProblem, type State } from "./state";

export const SEVERITIES = ["fault", "caution", "note"] as const;
export type Severity = (typeof SEVERITIES)[number];

const PROBLEMS: Record<ProblemDoc["kind"], string> = {
  file: "the file cannot be used",
  layout: "no layout found",
  edit: "the edit cannot be made",
  stopped: "could not be worked out",
};

export interface Verdict {
  sign: Sign;
  /** "may be made", "not to be made"; "no faults so far" as long as not all is checked. */
  word: string;
  /** "2 faults, 1 caution, no notes"; empty where there is no plan. */
  counted: string;
  /** What is still to come, or that it is only tried; empty where all is known. */
  soFar: string;
}

export function countFindings(findings: readonly FindingDoc[]): Record<Severity, number> {
  const counts = { fault: 0, caution: 0, note: 0 };
  for (const { severity } of findings) counts[severity]++;
  return counts;
}

export function countOf(count: number, word: string): string {
  return count === 0 ? `no ${word}s` : count === 1 ? `1 ${word}` : `${count} ${word}s`;
}

function tellTrial({ trial }: State): string {
  return trial?.written ? "written; the plan follows" : "tried, not written";
}

/** Judges what is looked at; null before anything is known. */
export function judge(state: State): Verdict | null {
  const problem = shownProblem(state);
  if (problem) {
    // The quick search found none; the whole one is at work.
    const sought = problem.kind === "layout" && !state.trial && state.progress.plan !== null;
    if (sought) return { sign: "open", word: "no layout so far", counted: "", soFar: "still being sought" };
    return { sign: "fault", word: PROBLEMS[problem.kind], counted: "", soFar: state.trial ? tellTrial(state) : "" };
  }
  const plan = shownPlan(state);
  if (!plan) return null;
  const counts = countFindings(plan.findings);
  const counted = SEVERITIES.map((severity) => countOf(counts[severity], severity)).join(", ");
  const depth = state.trial?.answer
    ? `${tellTrial(state)}${plan.whole ? "" : "; not all is checked"}`
    : {
        none: "",
        older: "of the text before the last change",
        quick: "so far: the whole plan is being made",
        whole: "so far: the solid's checks follow",
        checked: "",
      }[depthOf(state)];
  const left = findingsLeft(state).length;
  const soFar = [depth, left && `${countOf(left, "finding")} not looked at again yet`].filter(Boolean).join("; ");
  if (counts.fault) return { sign: "fault", word: "not to be made", counted, soFar };
  if (!isChecked(state)) {
    const others = SEVERITIES.slice(1).map((severity) => countOf(counts[severity], severity));
    return { sign: "open", word: "no faults so far", counted: others.join(", "), soFar };
  }
  if (counts.caution) return { sign: "caution", word: "may be made, with cautions", counted, soFar };
  return { sign: "good", word: "may be made", counted, soFar };
}
