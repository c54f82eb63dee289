/** The longest that an answer may take: an edit of the file is made within a second. */
const ANSWER_MS = 20_000;
/** The same after a refusal that does not tell what it refuses. */
const DOUBT_MS = 2_000;
/** Edits that may wait for the answer to the one before. */
export const MOST_QUEUED = 50;

/** What was asked of the server and is not answered: what is done with the answer. */
export interface Asked {
  said: string;
  /** Whether regions or entries of the file may have other numbers once it is done. */
  renumbers: boolean;
  answered: (done: boolean, revision: number) => void;
}

interface Open extends Asked {
  timer: number;
}

/** What was asked and is not answered, and what waits for that. */
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

  /** Whether what was asked so renumbers; of what nobody waits for, it may. */
  renumbers(number: number): boolean {
    return this.open.get(number)?.renumbers ?? true;
  }

  /** Does something once all is answered: it is meant of what then stands. False where too much waits already. */
  inTurn(what: () => void): boolean {
    if (!this.waits) what();
    else if (this.queued.length >= MOST_QUEUED) return false;
    else this.queued.push(what);
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
