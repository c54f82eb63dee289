import { button, make, tell } from "./elements";

/** A change is said once it has stood this long: not each step of a drag. */
const SETTLE_MS = 500;
/** Sentences that are said together at most: the newest. */
const MOST_TOGETHER = 3;

/** Of what is said: a newer sentence takes the place of one of the same subject, and stands beside others. */
export type Subject = "plan" | "form" | "edit" | "page";

/** What is said to those who do not see: politely what changed, at once what went wrong. The latter is seen too. */
export class Voice {
  readonly polite = make("p", { class: "unseen", role: "status", id: "said" });
  /** At the foot of the page, in its flow: it sticks there, and covers nothing that cannot be scrolled to. */
  readonly foot: HTMLElement;
  /** At once, of what is seen elsewhere on the page. */
  readonly alarm = make("p", { class: "unseen", role: "alert", id: "alarm" });
  private readonly urgent: HTMLElement;
  private readonly warned = make("p", { role: "alert", id: "warned" });
  private readonly noting: HTMLElement;
  private readonly noted = make("p", { id: "noted" });
  private readonly sentences = new Map<Subject, string>();
  private waits = 0;

  constructor() {
    const close = button("close", () => this.calm(), { "aria-label": "close the warning" });
    this.urgent = make("div", { class: "warned", hidden: true }, this.warned, close);
    const seen = button("close", () => this.note(""), { "aria-label": "close the note" });
    this.noting = make("div", { class: "noted", hidden: true }, this.noted, seen);
    this.foot = make("section", { class: "foot", "aria-label": "What was changed or refused" }, this.noting, this.urgent);
  }

  say(text: string, subject: Subject = "page"): void {
    // Put last: the newest of all.
    this.sentences.delete(subject);
    if (![...this.sentences.values()].includes(text)) this.sentences.set(subject, text);
    clearTimeout(this.waits);
    this.waits = window.setTimeout(() => {
      const said = [...this.sentences.values()].filter(Boolean).slice(-MOST_TOGETHER);
      this.sentences.clear();
      this.polite.textContent = said.length > 1 ? said.map(endSentence).join(" ") : (said[0] ?? "");
    }, SETTLE_MS);
  }

  warn(text: string): void {
    this.urgent.hidden = false;
    this.warned.textContent = text;
  }

  alert(text: string): void {
    this.alarm.textContent = text;
  }

  /** Shows what is no fault but must not be missed; empty: it was read. Said it is by `say`. */
  note(text: string): void {
    this.noting.hidden = !text;
    tell(this.noted, text);
  }

  /** Takes the warning away: it was read, or what it told of has been mended; `text`: only if it is this one. */
  calm(text?: string): void {
    if (text !== undefined && this.warned.textContent !== text) return;
    this.urgent.hidden = true;
    this.warned.textContent = "";
  }
}

export function endSentence(text: string): string {
  return /[.!?]$/.test(text) ? text : `${text}.`;
}
