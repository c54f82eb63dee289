import { Vector3, type PerspectiveCamera } from "three";
import type { CutPlane } from "./cut";
import type { Finding } from "./scene";

const APART_PX = 26;
/** From the middle of a pin to the rim of the picture. */
const RIM_PX = 13;
/** How many rows and columns round its place a pin may stand aside. */
const ROWS = 6;
/** A pin lower than this from the lower rim tells its text above itself. */
const TEXT_PX = 90;

/** Where a pin may stand beside its place, the nearest first: to the right of it rather than to the left. */
const ASIDE: readonly [number, number][] = Array.from({ length: (2 * ROWS + 1) ** 2 }, (_, k): [number, number] => [
  (k % (2 * ROWS + 1)) - ROWS,
  Math.floor(k / (2 * ROWS + 1)) - ROWS,
]).sort(([a, b], [c, d]) => a * a + b * b - c * c - d * d || c - a || d - b);
const UNNAMED = "•";

/** "caution B: thread.depth" */
export function nameFinding({ severity, letter, code }: Finding): string {
  return `${letter ? `${severity} ${letter}` : severity}: ${code}`;
}

/** Buttons over the picture, one for each finding that has a place, with the letters of the plan. */
export class Pins {
  readonly element = document.createElement("div");
  private readonly here = document.createElement("div");
  private place: Vector3 | null = null;
  private readonly pins: { finding: Finding; at: Vector3; button: HTMLButtonElement }[] = [];

  constructor(findings: Finding[], pressed: (finding: Finding) => void) {
    this.element.className = "solid-pins";
    this.here.className = "solid-here";
    this.here.hidden = true;
    this.element.append(this.here);
    for (const finding of findings) {
      if (!finding.at) continue;
      const button = document.createElement("button");
      button.type = "button";
      button.className = `solid-pin solid-pin-${finding.severity}`;
      button.textContent = finding.letter || UNNAMED;
      button.dataset.text = nameFinding(finding);
      button.setAttribute("aria-label", nameFinding(finding));
      button.addEventListener("click", () => pressed(finding));
      this.element.append(button);
      this.pins.push({ finding, at: new Vector3(...finding.at), button });
    }
  }

  get count(): number {
    return this.pins.length;
  }

  choose(finding: Finding | null): void {
    for (const pin of this.pins) {
      if (pin.finding === finding) pin.button.setAttribute("aria-current", "true");
      else pin.button.removeAttribute("aria-current");
    }
  }

  /** Shows or hides the pins; the ring round a place stays. */
  show(shown: boolean): void {
    this.element.classList.toggle("solid-pins-off", !shown);
  }

  /** Draws a ring round a place; null takes it away. */
  ring(place: Vector3 | null): void {
    this.place = place;
  }

  /** Lays the pins over their places; those that would cover one another stand aside, all of them in the picture. */
  update(camera: PerspectiveCamera, width: number, height: number, cut: CutPlane): void {
    const taken: [number, number][] = [];
    for (const { at, button } of this.pins) {
      const seen = project(at, camera, width, height);
      button.hidden = !seen || !cut.keeps(at);
      if (!seen || button.hidden) continue;
      const [x, y] = findRoom(clamp(seen[0], width), clamp(seen[1], height), width, height, taken);
      taken.push([x, y]);
      button.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
      // Its text runs to the side where there is more room, and no farther than that.
      button.classList.toggle("solid-pin-leftward", x > width / 2);
      button.classList.toggle("solid-pin-upward", y > height - TEXT_PX);
      button.style.setProperty("--room", `${Math.max(x, width - x).toFixed(0)}px`);
    }
    const seen = this.place && project(this.place, camera, width, height);
    this.here.hidden = !seen;
    if (seen) this.here.style.transform = `translate(${seen[0].toFixed(1)}px, ${seen[1].toFixed(1)}px)`;
  }
}

/** A place in the picture, in pixels from its upper left; null outside. */
function project(at: Vector3, camera: PerspectiveCamera, width: number, height: number): [number, number] | null {
  const { x, y, z } = at.clone().project(camera);
  if (Math.max(Math.abs(x), Math.abs(y), Math.abs(z)) > 1) return null;
  return [((x + 1) / 2) * width, ((1 - y) / 2) * height];
}

function clamp(at: number, size: number): number {
  return Math.max(RIM_PX, Math.min(size - RIM_PX, at));
}

/** The nearest place that no other pin has taken; where there is none, the pin's own. */
function findRoom(
  x: number,
  y: number,
  width: number,
  height: number,
  taken: readonly [number, number][],
): [number, number] {
  for (const [column, row] of ASIDE) {
    const [left, top] = [x + column * APART_PX, y + row * APART_PX];
    if (left !== clamp(left, width) || top !== clamp(top, height)) continue;
    if (taken.every(([a, b]) => Math.abs(a - left) >= APART_PX || Math.abs(b - top) >= APART_PX)) return [left, top];
  }
  return [x, y];
}
