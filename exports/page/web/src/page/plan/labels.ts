import type { Xy } from "../messages";
import { areaShared, holds, type Rect } from "./panel_frame";

export type Side = "left" | "right" | "above" | "below";

/** A name that wants a place beside its thing. Lengths in mm of the drawing. */
export interface Wanted {
  id: string;
  lines: string[];
  at: Xy;
  /** Half of what it must stay beside. */
  radius: number;
  /** The head of its pin: what stands beside that reads as its name, too. */
  pin: Xy | null;
  /** Asked first; other sides are worse. */
  first: Side;
  /** It is drawn whatever is in its way. */
  must: boolean;
  /** It is drawn wherever there is any room: a port without its name is hosed to the wrong part. */
  keep: boolean;
}

export interface Label {
  id: string;
  lines: string[];
  /** Where its first line's base line is anchored. */
  x: number;
  y: number;
  anchor: "start" | "middle" | "end";
  /** What it covers. */
  rect: Rect;
  /** Of one that stands far from its thing, or as near to another: the line that leads there. */
  lead: [Xy, Xy] | null;
}

export interface Obstacle {
  rect: Rect;
  /** How bad it is to cover it: with 1, as bad as to be farther away by all that a name may be. */
  weight: number;
}

interface Ring {
  /** In gaps. */
  out: number;
  cost: number;
}

/** Of a letter as wide as most, and of a line, as shares of the size of the type. */
const LETTER = 0.55;
const LINE = 1.15;
/** Names that would cover more than this are left out, in shares of themselves by weight. */
const MOST_COVERED = 0.6;
/** How far out a name may stand, and how bad that is. */
const RINGS: Ring[] = [
  { out: 1, cost: 0 },
  { out: 2.5, cost: 0.1 },
  { out: 4.5, cost: 0.2 },
  { out: 7, cost: 0.28 },
  { out: 10.5, cost: 0.36 },
  { out: 15, cost: 0.46 },
];
/** Farther out only those look that found no room, and that are never left out. */
const OUTER_RINGS = [20, 26, 33, 41, 50].map((out, k) => ({ out, cost: 0.5 + 0.03 * k }));
/** So many gaps out and farther, a line leads from the name to its thing. */
const LED_FROM = 4;
/** How bad it is to stand as near to another thing that wants a name, within so many gaps: there a line leads, too. */
const MISREAD = 0.1;
const MISREAD_WITHIN = 0.5;
/** A line shorter than so many gaps is hardly seen: how bad it is to stand there all the same. */
const SHORT_LEAD = 2;
const MISREAD_UNLED = 0.3;
/** How bad it is that the line to one thing runs over another that wants a name. */
const MISLED = 0.4;
/** How far it may stand aside of the middle, as shares of all, and how bad that is. */
const ASIDE: [number, number][] = [
  [0, 0],
  [-0.5, 0.03],
  [0.5, 0.03],
  [-1, 0.04],
  [1, 0.04],
];
const OTHER_SIDE = 0.06;
/** How bad it is to cover names, to stand beside what is seen, and for lines to cross names. */
const NAME_WEIGHT = 4;
const BESIDE_WEIGHT = 12;
const CROSSED = 0.4;
/** So often each name looks for a better place beside those of all others. */
const ROUNDS = 5;
const LEAD_POINTS = [0.1, 0.3, 0.5, 0.7, 0.9];
/** Room between names that stand side by side, in gaps: else they read as one. */
const NAMES_APART = 1;
/** And between those one above the other, as a share of that. */
const UP_APART = 0.3;

interface Weighed {
  /** Of a place, whatever other names do. */
  cost: number;
  /** What of that is for what it covers. */
  covers: number;
}

interface Candidate {
  rect: Rect;
  anchor: Label["anchor"];
  lead: [Xy, Xy] | null;
  /** For how far and on which side it stands. */
  aside: number;
  /** Null until it is asked for. */
  weighed: Weighed | null;
}

/** Among what names are placed. */
interface Ground {
  wanted: Wanted[];
  obstacles: Obstacle[];
  type: number;
  gap: number;
  bounds: Rect | null;
}

interface Placing {
  want: Wanted;
  wide: number;
  /** Nearest first. */
  candidates: Candidate[];
  /** What they can reach. */
  near: Obstacle[];
  /** Whose names its own could be taken for. */
  others: Wanted[];
  now: Candidate | null;
}

/**
 * Puts each name where it covers least; one that finds no room beside its thing, or stands as near to another, has a
 * line that leads there, and one that would cover too much is left out. `bounds`: what is seen, null where that is no
 * limit.
 */
export function placeLabels(
  wanted: Wanted[],
  obstacles: Obstacle[],
  type: number,
  gap: number,
  bounds: Rect | null,
): Label[] {
  const ground: Ground = { wanted, obstacles, type, gap, bounds };
  const placings = [...wanted]
    .sort((a, b) => Number(b.must) - Number(a.must) || Number(b.keep) - Number(a.keep))
    .map((want) => placingOf(want, RINGS, ground));
  for (let round = 0; round < ROUNDS; round++) {
    let moved = false;
    for (const placing of placings) {
      const best = bestOf(placing, placings, ground);
      moved ||= best !== placing.now;
      placing.now = best;
    }
    if (!moved) break;
  }
  const out: Placing[] = [];
  const homeless: Placing[] = [];
  for (const placing of placings) {
    const { now, want } = placing;
    const stands = now && (want.must || (weigh(now, placing, ground).cost <= MOST_COVERED && isFree(now, out)));
    if (stands) out.push(placing);
    else if (want.keep) homeless.push(placing);
  }
  for (const { want } of homeless) {
    const placing = placingOf(want, [...RINGS, ...OUTER_RINGS], ground);
    placing.candidates = placing.candidates.filter(
      (one) => isFree(one, out) && weigh(one, placing, ground).covers <= MOST_COVERED,
    );
    placing.now = bestOf(placing, out, ground);
    if (placing.now) out.push(placing);
  }
  return out.map(({ want, wide, now }) => {
    const { rect, anchor, lead } = now!;
    const x = { start: rect.x, middle: rect.x + wide / 2, end: rect.x + wide }[anchor];
    return { id: want.id, lines: want.lines, x, y: rect.y + 0.9 * type, anchor, rect, lead };
  });
}

/** Whether a name would cover none of those that stand. */
function isFree({ rect }: Candidate, out: Placing[]): boolean {
  return out.every(({ now }) => areaShared(now!.rect, rect) === 0);
}

/** A name with its places on some rings. */
function placingOf(want: Wanted, rings: Ring[], { wanted, obstacles, type, gap }: Ground): Placing {
  const wide = Math.max(...want.lines.map((line) => line.length)) * LETTER * type;
  const candidates = candidatesOf(want, rings, wide, want.lines.length * LINE * type, gap);
  // What names cannot reach need not be looked at.
  const reach = hullOf(candidates);
  const near = obstacles.filter(({ rect }) => areaShared(rect, reach) > 0);
  // Farther from all places than the name's own thing is none that could be mistaken for it.
  const within = Math.max(reach.width, reach.height) / 2;
  const others = wanted.filter((other) => other !== want && farOf(reach, other) < within);
  return { want, wide, candidates: candidates.sort((a, b) => a.aside - b.aside), near, others, now: null };
}

/** What a place costs whatever other names do: the same for all rounds, and most are never asked for. */
function weigh(one: Candidate, { want, others, near }: Placing, { gap, bounds }: Ground): Weighed {
  if (one.weighed) return one.weighed;
  const covers = coverOf(one, near, bounds);
  let cost = one.aside + covers;
  if (isMisread(one.rect, want, others, MISREAD_WITHIN * gap)) {
    one.lead ??= leadTo(want.at, want.radius, one.rect);
    cost += lengthOf(one.lead) < SHORT_LEAD * gap ? MISREAD_UNLED : MISREAD;
  }
  if (one.lead && isMisled(one.lead, others)) cost += MISLED;
  one.weighed = { cost, covers };
  return one.weighed;
}

/** Whether a name stands about as near to another thing as to its own, or nearer: it reads as that one's. */
function isMisread(rect: Rect, want: Wanted, others: Wanted[], within: number): boolean {
  const far = farOf(rect, want) + within;
  return others.some((other) => farOf(rect, other) < far);
}

/** How far a rectangle is from the rim of a thing, or from its pin. */
function farOf(rect: Rect, { at, radius, pin }: Wanted): number {
  const far = farFrom(rect, at) - radius;
  return pin ? Math.min(far, farFrom(rect, pin)) : far;
}

function farFrom({ x, y, width, height }: Rect, at: Xy): number {
  return Math.hypot(Math.max(x - at[0], 0, at[0] - x - width), Math.max(y - at[1], 0, at[1] - y - height));
}

function lengthOf([[x, y], [tx, ty]]: [Xy, Xy]): number {
  return Math.hypot(tx - x, ty - y);
}

/** Whether a line runs over a thing that is not its own. */
function isMisled([[x, y], [tx, ty]]: [Xy, Xy], others: Wanted[]): boolean {
  const [dx, dy] = [tx - x, ty - y];
  const square = dx * dx + dy * dy || 1;
  return others.some(({ at, radius }) => {
    const share = Math.min(Math.max(((at[0] - x) * dx + (at[1] - y) * dy) / square, 0), 1);
    return Math.hypot(x + share * dx - at[0], y + share * dy - at[1]) < radius;
  });
}

/** The best place of a name beside those that all others have now. */
function bestOf(placing: Placing, placings: Placing[], ground: Ground): Candidate | null {
  const others = placings.flatMap(({ now }) =>
    now && now !== placing.now ? [{ ...now, room: widen(now.rect, NAMES_APART * ground.gap) }] : [],
  );
  let best: Candidate | null = null;
  let least = Number.POSITIVE_INFINITY;
  for (const one of placing.candidates) {
    // All that follow cost more, whatever they cover.
    if (one.aside >= least) break;
    let { cost } = weigh(one, placing, ground);
    for (const other of others) {
      if (cost >= least) break;
      cost += (NAME_WEIGHT * areaShared(one.rect, other.room)) / areaOf(one.rect);
      if (isCrossed(one.rect, other.lead) || isCrossed(other.rect, one.lead)) cost += CROSSED;
    }
    if (cost < least - 1e-9) [best, least] = [one, cost];
  }
  return best;
}

/** How bad it is what a name covers where it stands, and what of it is not seen. */
function coverOf({ rect, lead }: Candidate, obstacles: Obstacle[], bounds: Rect | null): number {
  const area = areaOf(rect);
  let cost = bounds ? BESIDE_WEIGHT * (1 - areaShared(rect, bounds) / area) : 0;
  for (const one of obstacles) {
    cost += (one.weight * areaShared(rect, one.rect)) / area;
    if (one.weight >= 1 && isCrossed(one.rect, lead)) cost += CROSSED / 4;
  }
  return cost;
}

function isCrossed(rect: Rect, lead: [Xy, Xy] | null): boolean {
  if (!lead) return false;
  const [from, to] = lead;
  if (Math.max(from[0], to[0]) < rect.x || Math.min(from[0], to[0]) > rect.x + rect.width) return false;
  if (Math.max(from[1], to[1]) < rect.y || Math.min(from[1], to[1]) > rect.y + rect.height) return false;
  return LEAD_POINTS.some((share) =>
    holds(rect, [from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share]),
  );
}

function candidatesOf(
  { at: [x, y], radius, first }: Wanted,
  rings: Ring[],
  wide: number,
  high: number,
  gap: number,
): Candidate[] {
  const out: Candidate[] = [];
  for (const ring of rings) {
    const far = radius + gap * ring.out;
    for (const [aside, worse] of ASIDE) {
      const [up, along] = [aside * (high / 2 + radius * 0.5), aside * (wide / 2 + radius * 0.2)];
      const put = (left: number, top: number, anchor: Label["anchor"], side: Side): void => {
        const rect = { x: left, y: top, width: wide, height: high };
        const cost = ring.cost + worse + (side === first ? 0 : OTHER_SIDE);
        const lead = ring.out < LED_FROM ? null : leadTo([x, y], radius, rect);
        out.push({ rect, anchor, lead, aside: cost, weighed: null });
      };
      put(x + far, y - high / 2 + up, "start", "right");
      put(x - far - wide, y - high / 2 + up, "end", "left");
      put(x - wide / 2 + along, y - far - high, "middle", "above");
      put(x - wide / 2 + along, y + far, "middle", "below");
    }
  }
  return out;
}

/** A line from the nearest place of a name to the rim of its thing. */
function leadTo([x, y]: Xy, radius: number, { x: left, y: top, width, height }: Rect): [Xy, Xy] {
  const from: Xy = [Math.min(Math.max(x, left), left + width), Math.min(Math.max(y, top), top + height)];
  const far = Math.hypot(from[0] - x, from[1] - y) || 1;
  return [from, [x + ((from[0] - x) / far) * radius, y + ((from[1] - y) / far) * radius]];
}

function hullOf(candidates: Candidate[]): Rect {
  const x = Math.min(...candidates.map(({ rect }) => rect.x));
  const y = Math.min(...candidates.map(({ rect }) => rect.y));
  const right = Math.max(...candidates.map(({ rect }) => rect.x + rect.width));
  const low = Math.max(...candidates.map(({ rect }) => rect.y + rect.height));
  return { x, y, width: right - x, height: low - y };
}

function widen({ x, y, width, height }: Rect, by: number): Rect {
  const up = UP_APART * by;
  return { x: x - by, y: y - up, width: width + 2 * by, height: height + 2 * up };
}

function areaOf({ width, height }: Rect): number {
  return width * height;
}
