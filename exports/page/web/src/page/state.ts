import type { FileTold, FindingDoc, PlanTold, ProblemDoc, Tell, ThingId } from "./messages";

/** How far the plan that is shown is worked out; "older": it is of a text that has changed since. */
export type Depth = "none" | "older" | "quick" | "whole" | "checked";

export interface Progress {
  stage: string;
  seconds: number;
  /** When that was heard, by the page's clock, ms. */
  heard: number;
  share: number | null;
}

type Told<T extends Tell["tell"]> = Extract<Tell, { tell: T }>;

/** What is tried without being written: what the plan in hand asks, or a remedy. */
export interface Trial {
  /** Under which it was sent; only the answer to the newest is shown. */
  number: number;
  /** Of the text that it was made on. */
  revision: number;
  /** In words where it is a remedy that is tried; empty where a thing is in hand. */
  said: string;
  /** Whether it was made an edit of: it is in the file, and its plan is still to come. */
  written?: boolean;
  answer: PlanTold | null;
  problem: ProblemDoc | null;
}

/** All that the page knows; each tell makes a new one. */
export interface State {
  connected: boolean;
  hello: Told<"hello"> | null;
  file: FileTold | null;
  /** Of the newest text that has one. */
  plan: { revision: number; told: PlanTold; checked: boolean } | null;
  /** The plan before the last change of the text, for what a change changed. */
  before: PlanTold | null;
  /** What is known to be found, of the last whole plan and of the last solid that was checked. */
  known: readonly FindingDoc[];
  problem: { revision: number; problem: ProblemDoc } | null;
  trial: Trial | null;
  /** `count` goes up with each tell: the same address may hold another text. */
  solid: { revision: number; address: string; checked: boolean; count: number } | null;
  progress: { plan: Progress | null; solid: Progress | null; make: Progress | null };
  made: Told<"made"> | null;
  /** Whether files were asked for and are not there yet. */
  making: boolean;
  /** Questions that wait for an answer, the oldest first. */
  conflicts: readonly Told<"conflict">[];
  selected: ThingId | null;
}

export const FIRST: State = {
  connected: false,
  hello: null,
  file: null,
  plan: null,
  before: null,
  known: [],
  problem: null,
  trial: null,
  solid: null,
  progress: { plan: null, solid: null, make: null },
  made: null,
  making: false,
  conflicts: [],
  selected: null,
};

/** Returns what is known after a tell that was heard at `heard`, ms; the same state where the tell is stale. */
export function takeTell(state: State, tell: Tell, heard: number): State {
  const now = state.file?.revision ?? 0;
  switch (tell.tell) {
    case "hello":
      // The same server as before: another has another address. What lasts there is told once more.
      return { ...state, hello: tell, progress: FIRST.progress, conflicts: [], making: false };
    case "file":
      return tell.revision < now ? state : takeFile(state, tell);
    case "plan": {
      if (tell.revision < now) return state;
      const { tell: _, revision, ms: __, ...told } = tell;
      const solid = state.solid?.revision === revision && state.solid.checked;
      const checked = told.whole && (solid || told.findings.some((finding) => finding.of === "solid"));
      const same = state.plan?.revision === revision;
      const before = same ? state.before : (state.plan?.told ?? null);
      const known = told.whole ? [...told.findings, ...(checked ? [] : notLookedAt(told, state.known))] : state.known;
      const trial = outlast(state, revision);
      return { ...state, plan: { revision, told, checked }, before, known, problem: null, trial };
    }
    case "problem": {
      if (tell.revision < now) return state;
      const { revision, problem } = tell;
      return { ...state, problem: { revision, problem }, trial: outlast(state, revision) };
    }
    case "draft":
      if (state.trial?.number !== tell.number) return state;
      return { ...state, trial: { ...state.trial, answer: tell.answer, problem: tell.problem } };
    case "progress": {
      const { of, stage, seconds, share } = tell;
      const making = of === "make" && stage ? true : state.making;
      const progress = stage ? { stage, seconds, heard, share } : null;
      return { ...state, making, progress: { ...state.progress, [of]: progress } };
    }
    case "solid": {
      if (tell.revision < now) return state;
      const { revision, address, checked } = tell;
      const plan = state.plan;
      const settled = checked && plan?.revision === revision;
      return {
        ...state,
        known: settled && plan.told.whole ? plan.told.findings : state.known,
        solid: { revision, address, checked, count: (state.solid?.count ?? 0) + 1 },
        plan: settled ? { ...plan, checked } : plan,
      };
    }
    case "made":
      return { ...state, made: tell, making: false, progress: { ...state.progress, make: null } };
    case "conflict": {
      const others = state.conflicts.filter(({ conflict }) => conflict !== tell.conflict);
      return { ...state, conflicts: [...others, tell] };
    }
    case "settled":
      return { ...state, conflicts: state.conflicts.filter(({ conflict }) => conflict !== tell.conflict) };
    case "restarted":
      return { ...state, progress: FIRST.progress };
    default:
      return state;
  }
}

function takeFile(state: State, file: FileTold): State {
  const changed = state.file !== null && state.file.revision !== file.revision;
  // What is tried stays in sight until the plan of the new text is there: it may well be the same.
  return { ...state, file, problem: changed ? null : state.problem };
}

/** What is tried, if it was not made on an older text than that of a revision. */
function outlast({ trial }: State, revision: number): Trial | null {
  return trial && trial.revision >= revision ? trial : null;
}

/** Findings of which a plan's own do not tell whether they still hold: no finding of their code is among them. */
function notLookedAt({ findings, whole }: PlanTold, known: readonly FindingDoc[]): FindingDoc[] {
  const codes = new Set(findings.map(({ code }) => code));
  return known.filter(({ code, of }) => !codes.has(code) && (!whole || of === "solid"));
}

/** Findings of plans before that nothing has looked at again in what is shown; none once all is checked. */
export function findingsLeft(state: State): FindingDoc[] {
  const plan = shownPlan(state);
  return !plan || isChecked(state) ? [] : notLookedAt(plan, state.known);
}

/** Whether all is checked of what is shown, its solid too. */
export function isChecked(state: State): boolean {
  return !state.trial?.answer && depthOf(state) === "checked";
}

/** How far what is shown is worked out. */
export function depthOf({ plan, file }: State): Depth {
  if (!plan) return "none";
  if (plan.revision < (file?.revision ?? 0)) return "older";
  if (!plan.told.whole) return "quick";
  return plan.checked ? "checked" : "whole";
}

/** What is looked at: what is tried, else the plan of the file; null where there is none. */
export function shownPlan({ trial, plan }: State): PlanTold | null {
  return trial?.answer ?? plan?.told ?? null;
}

/** The revision of what is looked at, with which its findings offer their changes. */
export function shownRevision({ trial, plan }: State): number {
  return (trial?.answer ? trial.revision : plan?.revision) ?? 0;
}

/** The problem of what is looked at. */
export function shownProblem({ trial, problem }: State): ProblemDoc | null {
  return trial ? trial.problem : (problem?.problem ?? null);
}

/** Against what numbers are marked as changed. */
export function comparedPlan({ trial, plan, before }: State): PlanTold | null {
  return trial?.answer ? (plan?.told ?? null) : before;
}
