import type { Progress, State } from "./state";

/** Whole seconds that a piece of work has taken, counted on from when they were told. */
export function secondsOf({ seconds, heard }: Progress): number {
  return Math.floor(seconds + (performance.now() - heard) / 1000);
}

/** Calls a function each second for as long as something is being worked out. */
export class Ticking {
  private timer = 0;

  constructor(private readonly tick: () => void) {}

  show({ progress }: State): void {
    const works = Object.values(progress).some((each) => each !== null);
    if (works && !this.timer) this.timer = window.setInterval(this.tick, 1000);
    if (!works) {
      clearInterval(this.timer);
      this.timer = 0;
    }
  }
}
