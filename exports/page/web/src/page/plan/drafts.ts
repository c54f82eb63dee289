/** What is known of a try: which drafts of it were sent, which is shown, and whether it was made an edit. */
export interface DraftState {
  /** Number of the first draft that holds of the text and the thing in hand: answers to older ones are never shown. */
  readonly first: number | null;
  /** Number of the newest draft; null: none was sent since the try began. */
  readonly newest: number | null;
  /** Number of the draft that is not answered yet: one at a time, so that a steady drag shows an answer to each. */
  readonly flying: number | null;
  /** Whether the thing in hand stands elsewhere than in the newest draft: the next one is still to be sent. */
  readonly behind: boolean;
  /** Number of the draft that is shown; null: none. */
  readonly shown: number | null;
  /** "none"; "trying": in hand; "committed": an edit was asked for, and its plan is not there yet. */
  readonly phase: "none" | "trying" | "committed";
  /** The last revision that was shown. */
  readonly revision: number;
}

const NONE_SENT = { first: null, newest: null, flying: null, behind: false } as const;

export const NO_DRAFT: DraftState = { ...NONE_SENT, shown: null, phase: "none", revision: -1 };

/** A try begins: what was shown of one before that was not yet settled stays in sight until it is answered. */
export function beginTry(state: DraftState): DraftState {
  return { ...state, ...NONE_SENT, phase: "trying" };
}

/** The thing in hand stands elsewhere than in the newest draft. */
export function noteChange(state: DraftState): DraftState {
  return state.phase === "none" ? state : { ...state, behind: true };
}

/** The thing in hand is back where it stood: what is settled holds of it, and no draft. */
export function noteReturn(state: DraftState): DraftState {
  return { ...state, ...NONE_SENT, shown: null };
}

/** Whether the next draft is to be sent: the thing was moved, and the draft before is answered. */
export function isDue(state: DraftState): boolean {
  return state.phase === "trying" && state.behind && state.flying === null;
}

export function noteSent(state: DraftState, number: number): DraftState {
  if (state.phase === "none") return state;
  return { ...state, first: state.first ?? number, newest: number, flying: number, behind: false };
}

/** Whether an answer is newer than what is shown, and of the try that still lasts. */
export function isFresh(state: DraftState, number: number): boolean {
  return state.phase !== "none" && state.first !== null && number >= state.first && number > (state.shown ?? -1);
}

/** Notes an answer: it is shown where it is fresh, and whichever it is, nobody waits for it any more. */
export function noteAnswer(state: DraftState, number: number): DraftState {
  const now = state.flying === number ? { ...state, flying: null } : state;
  return isFresh(state, number) ? { ...now, shown: number } : now;
}

/** A draft was refused: there is no answer to it, and none to wait for. */
export function noteRefusal(state: DraftState, number: number): DraftState {
  return state.flying === number ? { ...state, flying: null } : state;
}

/** The answer that is waited for may have been lost on its way: its draft is sent again. */
export function noteLoss(state: DraftState): DraftState {
  return state.flying === null ? state : { ...state, flying: null, behind: true };
}

/** An edit was asked for: the draft stays in sight until its plan is there. */
export function commitTry(state: DraftState): DraftState {
  return state.phase === "trying" ? { ...state, phase: "committed" } : state;
}

/** The try ends, by Escape or because it was refused. */
export function endTry(state: DraftState): DraftState {
  return { ...state, ...NONE_SENT, shown: null, phase: "none" };
}

export interface Settled {
  state: DraftState;
  /** Whether the plan of the revision is drawn at once, not the draft. */
  draws: boolean;
  /** Whether the draft in hand was made on an older text, so that it is to be asked for again. */
  asksAgain: boolean;
}

/** A plan or problem of a revision came. */
export function settle(state: DraftState, revision: number): Settled {
  const newer = revision > state.revision;
  const noted = { ...state, revision: Math.max(revision, state.revision) };
  if (state.phase === "trying") {
    return newer
      ? { state: { ...noted, first: null, newest: null, shown: null }, draws: true, asksAgain: true }
      : { state: noted, draws: state.shown === null, asksAgain: false };
  }
  // The same revision as that on which the edit was made: the edit's own is still to come.
  if (state.phase === "committed" && !newer) return { state: noted, draws: false, asksAgain: false };
  return { state: endTry(noted), draws: true, asksAgain: false };
}
