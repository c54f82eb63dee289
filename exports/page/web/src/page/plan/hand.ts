import type { PlanDoc, PlanTold, ProblemDoc, ThingId } from "../messages";
import {
  beginTry,
  commitTry,
  endTry,
  isDue,
  isFresh,
  noteAnswer,
  noteChange,
  noteLoss,
  noteRefusal,
  noteReturn,
  noteSent,
  NO_DRAFT,
  settle,
  type DraftState,
} from "./drafts";
import {
  gesturesOf,
  isMoved,
  placeHeld,
  sameSpot,
  standingOf,
  takeUp,
  tellHold,
  type Hold,
  type Places,
  type Standing,
} from "./holding";
import type { PlanHooks } from "./plan_view";
import { endSentence } from "../voice";
import { findThing, nameOf, tellBox, tellPlace, type Thing } from "./things";
import { tellStanding } from "./draw_marks";

/** Two drafts are sent at least so long one after the other. */
const APART_MS = 60;
/** Steps by keys become one edit when no key was struck for so long. */
const COMMIT_MS = 600;
/** How often that is put off while it is not known where the thing may stand. */
const MOST_WAITS = 5;

const MOST_QUESTIONS = 20;

/** Takes things up, holds them, asks what follows, and makes an edit of it. */
export class Hand {
  /** What is held; after an edit it stays until its plan is there. */
  hold: Hold | null = null;
  places: Places | null = null;
  state: DraftState = NO_DRAFT;
  /** The answer to the draft that is shown. */
  answer: PlanTold | null = null;
  problem: ProblemDoc | null = null;
  private settled: PlanDoc | null = null;
  /** What was shown when the next thing was taken up before the plan of the last edit was there. */
  private carried: PlanDoc | null = null;
  /** The revision that was shown when it was taken up. */
  private taken = 0;
  private byKeys = false;
  private sent = false;
  private asked: number | null = null;
  /** The last questions for places: a refusal of one that nobody waits for any more is none of anything else. */
  private readonly questions = new Set<number>();
  private waits = 0;
  private sendTimer = 0;
  private lastSent = -APART_MS;
  private commitTimer = 0;

  constructor(
    private readonly hooks: PlanHooks,
    private readonly changed: () => void,
  ) {}

  /** Whether something is in hand that is not yet an edit. */
  get holds(): boolean {
    return this.state.phase === "trying" && this.hold !== null;
  }

  /** What nobody told beforehand, a box of another size, the answer to its draft tells. */
  get standing(): Standing {
    if (!this.hold) return "not known";
    const standing = standingOf(this.hold, this.places);
    if (standing === "may not" || this.waiting) return standing;
    if (this.problem?.kind === "stopped") return "not known";
    if (this.problem) return this.problem.kind === "edit" ? "refused" : "no layout";
    return this.answer ? "may" : standing;
  }

  /** The plan as it is to be drawn: the last one that is known, with what is in hand where it is held. */
  get shown(): PlanDoc | null {
    const base = this.answer?.plan ?? this.carried ?? this.settled;
    return base && this.hold ? placeHeld(base, this.hold) : base;
  }

  /** Whether routes do not belong to where the thing is held: their answer is still to come. */
  get waiting(): boolean {
    return this.hold !== null && isMoved(this.hold) && (this.state.behind || this.state.flying !== null);
  }

  /** Takes a thing up; what was in hand is let go of as an edit. */
  take(thing: Thing, byKeys: boolean): boolean {
    if (this.holds) {
      if (this.hold!.id === thing.id && this.byKeys === byKeys) return true;
      this.drop();
    }
    // Where it stands in what is shown, which is what the next edit begins from.
    const shown = this.shown;
    const now = findThing(shown, thing.id);
    const hold = now && takeUp(now);
    if (!hold) return false;
    if (this.state.phase === "committed") this.carried = shown;
    this.answer = null;
    this.problem = null;
    this.places = null;
    this.hold = hold;
    this.taken = this.state.revision;
    this.byKeys = byKeys;
    this.sent = false;
    this.state = beginTry(this.state);
    this.askPlaces(thing.id);
    this.changed();
    return true;
  }

  /** Holds the thing elsewhere. */
  move(hold: Hold): void {
    if (!this.holds || hold.id !== this.hold!.id) return;
    const same = sameSpot(hold.now, this.hold!.now);
    if (!same) {
      this.hold = hold;
      if (isMoved(hold)) {
        this.state = noteChange(this.state);
        this.sendSoon();
      } else this.takeBack();
      this.changed();
    }
    if (this.byKeys) {
      this.waits = 0;
      this.waitToCommit();
      this.hooks.say(same ? "no further" : this.told);
    }
  }

  /** Lets go: an edit where it may stand there, else it goes back. */
  drop(): void {
    if (!this.holds) return;
    this.stopTimers();
    const hold = this.hold!;
    const thing = findThing(this.shown, hold.id);
    if (!isMoved(hold) || !thing) return this.cancel();
    if (this.standing === "may not") {
      this.hooks.say(this.refusal);
      return this.cancel();
    }
    const said = tellHold(thing, hold);
    this.state = commitTry(this.state);
    this.hooks.edit(gesturesOf(hold), said, this.taken);
    this.changed();
  }

  /** Everything stands as before. */
  cancel(): void {
    if (!this.holds) return;
    const sent = this.sent;
    this.forget();
    if (sent) this.hooks.draft([]);
    this.changed();
  }

  /** Forgets what is in hand and what was tried, and asks for nothing. */
  forget(): void {
    this.stopTimers();
    this.state = endTry(this.state);
    this.hold = null;
    this.places = null;
    this.asked = null;
    this.answer = null;
    this.problem = null;
    this.carried = null;
    this.sent = false;
  }

  takeAnswer(number: number, answer: PlanTold | null, problem: ProblemDoc | null): boolean {
    const fresh = isFresh(this.state, number);
    this.state = noteAnswer(this.state, number);
    if (fresh) {
      if (answer) this.answer = answer;
      this.problem = problem;
      if (problem && this.byKeys) this.hooks.say(problem.headline);
    }
    // What was done meanwhile waited for this answer.
    this.sendSoon();
    this.changed();
    return fresh;
  }

  /** A wish was refused: there will be no answer to it, whether draft or places. Returns whether it was places. */
  takeRefusal(number: number): boolean {
    const places = this.questions.has(number);
    if (number === this.asked) this.asked = null;
    this.state = noteRefusal(this.state, number);
    this.sendSoon();
    this.changed();
    return places;
  }

  /** Answers may have been lost: what is waited for is asked again. */
  askLostAgain(): void {
    this.state = noteLoss(this.state);
    if (this.holds) this.askPlaces(this.hold!.id);
    this.sendSoon();
    this.changed();
  }

  takePlaces(number: number, thing: ThingId, places: Places): void {
    if (number !== this.asked || thing !== this.hold?.id || !this.holds) return;
    this.places = places;
    if (this.byKeys && isMoved(this.hold)) this.hooks.say(this.told);
    this.changed();
  }

  /** Notes the plan of a revision; null: there is none. Returns whether it is what is drawn now. */
  settle(plan: PlanDoc | null, revision: number): boolean {
    const { state, draws, asksAgain } = settle(this.state, revision);
    // Without a plan the thing stays where it was put: so the file says.
    if (!plan && state.phase === "none") this.carried = this.shown;
    if (plan) this.settled = plan;
    this.state = state;
    if (draws && plan) {
      this.answer = null;
      this.carried = null;
    }
    if (state.phase === "none") {
      this.hold = null;
      this.places = null;
      this.problem = null;
      this.answer = null;
    } else if (asksAgain) this.askAgain();
    return draws;
  }

  dispose(): void {
    this.stopTimers();
  }

  /** Why what is held would go back if it were let go of; "" where it would not. */
  get refusal(): string {
    const thing = this.holds && isMoved(this.hold!) ? findThing(this.shown, this.hold!.id) : null;
    if (!thing || this.standing !== "may not") return "";
    const why = this.places?.why || "something else has that place";
    return `${nameOf(thing)} may not stand at ${tellPlace(this.hold!.now.at)}: ${endSentence(why)} It goes back.`;
  }

  /** "port fill at (75, 135) mm, may stand here". */
  private get told(): string {
    const thing = findThing(this.shown, this.hold!.id);
    if (!thing) return "";
    const { now, from } = this.hold!;
    const where =
      now.box && tellHold(thing, this.hold!).startsWith("make") ? tellBox(now.box) : `at ${tellPlace(now.at)}`;
    const turned = now.turn !== from.turn ? `, turned ${now.turn} deg` : "";
    return `${nameOf(thing)} ${where}${turned}, ${tellStanding(this.standing)}`;
  }

  /** The text below changed while a thing is in hand: all that was asked is asked again. */
  private askAgain(): void {
    const thing = findThing(this.settled, this.hold!.id);
    if (!thing) return this.forget();
    const from = takeUp(thing)!.from;
    this.hold = { ...this.hold!, from };
    this.askPlaces(thing.id);
    if (!isMoved(this.hold)) return this.takeBack();
    this.state = noteChange(this.state);
    this.sendSoon();
  }

  /** It is back where it stood: nothing is tried. */
  private takeBack(): void {
    window.clearTimeout(this.sendTimer);
    this.state = noteReturn(this.state);
    this.answer = null;
    this.problem = null;
    if (this.sent) {
      this.hooks.draft([]);
      // That ends the try: where it may stand would not be told any more.
      if (!this.places && this.hold) this.askPlaces(this.hold.id);
    }
    this.sent = false;
  }

  private askPlaces(thing: ThingId): void {
    this.asked = this.hooks.places(thing);
    this.questions.add(this.asked);
    // An answer to one before these does not come any more.
    if (this.questions.size > MOST_QUESTIONS) this.questions.delete(this.questions.values().next().value!);
  }

  /** Sends the next draft if it is due: at once, but for the least time between two. */
  private sendSoon(): void {
    window.clearTimeout(this.sendTimer);
    if (!this.holds || !isDue(this.state)) return;
    const left = this.lastSent + APART_MS - performance.now();
    // At once where it may be: a timer would first let the page draw.
    if (left <= 0) this.send();
    else this.sendTimer = window.setTimeout(() => this.send(), left);
  }

  private send(): void {
    if (!this.holds || !isDue(this.state)) return;
    const number = this.hooks.draft(gesturesOf(this.hold!));
    // Without a connection it waits for the next one.
    if (number === null) return;
    this.sent = true;
    this.lastSent = performance.now();
    this.state = noteSent(this.state, number);
    this.changed();
  }

  private waitToCommit(): void {
    window.clearTimeout(this.commitTimer);
    this.commitTimer = window.setTimeout(() => {
      // Over ground where it may not stand one steps on: that is no edit, and no reason to go back.
      if (!this.holds || this.standing === "may not") return;
      if (!this.places && this.asked !== null && this.waits++ < MOST_WAITS) return this.waitToCommit();
      this.drop();
    }, COMMIT_MS);
  }

  private stopTimers(): void {
    window.clearTimeout(this.sendTimer);
    window.clearTimeout(this.commitTimer);
  }
}
