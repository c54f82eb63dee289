/** The longest that an answer may take: an edit of the file is made within a second. */
const ANSWER_MS = 20_000;
/** The same after a refusal that does not tell what it refuses. */
const DOUBT_MS = 2_000;
/** Edits that may wait for the answer to the one before. */
export const MOST_QUEUED = 50;

/** What was asked of the server and is not answered: what is done with the answer. */
export interface Asked {
  said: string;
  answered: (done: boolean, revision: number) => void;
}

interface Open extends Asked {
  timer: number;
}

/** Edits that are not answered, and those that wait for them: made on their text, they do not contradict it. */
export class Asking {
  private readonly open = new Map<number, Open>();
  private readonly queued: (() => void)[] = [];

  /** `lost` hears that no answer came to something. */
  constructor(private readonly lost: () => void) {}

  /** Whether something is not answered. */
  get waits(): boolean {
    return this.open.size > 0;
  }

  add(number: number, asked: Asked): void {
    this.open.set(number, { ...asked, timer: this.expect(number, ANSWER_MS) });
  }

  /** Does the next once all is answered; false where too much waits already. */
  queue(next: () => void): boolean {
    if (this.queued.length >= MOST_QUEUED) return false;
    this.queued.push(next);
    return true;
  }

  /** Takes an answer, and lets the next one go; returns what was asked, null where nobody waits for it. */
  answer(number: number, done: boolean, revision: number): Asked | null {
    const asked = this.open.get(number);
    if (!asked) return null;
    this.open.delete(number);
    clearTimeout(asked.timer);
    asked.answered(done, revision);
    if (!this.waits) this.queued.shift()?.();
    return asked;
  }

  /** Something was refused, and it is not told what: an answer that is still to come comes soon. */
  doubt(): void {
    for (const [number, asked] of this.open) {
      clearTimeout(asked.timer);
      asked.timer = this.expect(number, DOUBT_MS);
    }
  }

  /** Nothing that was asked will be answered; returns whether there was something. */
  giveUp(): boolean {
    const lost = this.waits || this.queued.length > 0;
    this.queued.length = 0;
    for (const number of [...this.open.keys()]) this.answer(number, false, 0);
    return lost;
  }

  private expect(number: number, within: number): number {
    return window.setTimeout(() => {
      this.lost();
      this.answer(number, false, 0);
    }, within);
  }
}
