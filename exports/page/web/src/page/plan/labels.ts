import type { Xy } from "../messages";
import { areaShared, type Rect } from "./panel_frame";

export type Side = "left" | "right" | "above" | "below";

/** A name that wants a place beside its thing. Lengths in mm of the drawing. */
export interface Wanted {
  id: string;
  lines: string[];
  at: Xy;
  /** Half of what it must stay beside. */
  radius: number;
  /** Asked first; other sides are worse. */
  first: Side;
  /** It is drawn whatever is in its way. */
  must: boolean;
}

export interface Label {
  id: string;
  lines: string[];
  /** Where its first line's base line is anchored. */
  x: number;
  y: number;
  anchor: "start" | "middle" | "end";
}

export interface Obstacle {
  rect: Rect;
  /** How bad it is to cover it, of 1. */
  weight: number;
}

/** Of a letter as wide as most, and of a line, as shares of the size of the type. */
const LETTER = 0.55;
const LINE = 1.15;
/** A label that would cover more than this share of itself in what is drawn is left out. */
const MOST_COVERED = 0.42;

/** Puts each name where it covers least, in their order; names that would cover too much are left out. */
export function placeLabels(wanted: Wanted[], obstacles: Obstacle[], type: number, gap: number): Label[] {
  const taken = [...obstacles];
  const out: Label[] = [];
  for (const want of [...wanted].sort((a, b) => Number(b.must) - Number(a.must))) {
    const wide = Math.max(...want.lines.map((line) => line.length)) * LETTER * type;
    const high = want.lines.length * LINE * type;
    let best: { cost: number; rect: Rect; anchor: Label["anchor"] } | null = null;
    for (const { rect, anchor, side, shifted } of candidates(want, wide, high, gap)) {
      const covered = taken.reduce((sum, one) => sum + one.weight * areaShared(rect, one.rect), 0) / (wide * high);
      const cost = covered + (side === want.first ? 0 : 0.06) + (shifted ? 0.03 : 0);
      if (!best || cost < best.cost - 1e-9) best = { cost, rect, anchor };
    }
    if (!best || (best.cost > MOST_COVERED && !want.must)) continue;
    taken.push({ rect: best.rect, weight: 1.5 });
    const x = { start: best.rect.x, middle: best.rect.x + wide / 2, end: best.rect.x + wide }[best.anchor];
    out.push({ id: want.id, lines: want.lines, x, y: best.rect.y + 0.9 * type, anchor: best.anchor });
  }
  return out;
}

interface Candidate {
  rect: Rect;
  anchor: Label["anchor"];
  side: Side;
  shifted: boolean;
}

function candidates({ at: [x, y], radius }: Wanted, wide: number, high: number, gap: number): Candidate[] {
  const out = radius + gap;
  const put = (left: number, top: number, anchor: Label["anchor"], side: Side, shifted = false): Candidate => ({
    rect: { x: left, y: top, width: wide, height: high },
    anchor,
    side,
    shifted,
  });
  const level = y - high / 2;
  return [
    put(x + out, level, "start", "right"),
    put(x - out - wide, level, "end", "left"),
    put(x - wide / 2, y - out - high, "middle", "above"),
    put(x - wide / 2, y + out, "middle", "below"),
    ...[-0.8, 0.8].flatMap((up) => [
      put(x + out, level + up * radius, "start", "right", true),
      put(x - out - wide, level + up * radius, "end", "left", true),
    ]),
    ...[-1, 1].flatMap((along) => [
      put(x - wide / 2 + along * (wide / 2 + radius * 0.2), y - out - high, "middle", "above", true),
      put(x - wide / 2 + along * (wide / 2 + radius * 0.2), y + out, "middle", "below", true),
    ]),
  ];
}
