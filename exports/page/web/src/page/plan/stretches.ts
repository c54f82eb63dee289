import type { ChannelDoc, LegDoc, PlanDoc, Xy } from "../messages";
import { flip } from "./panel_frame";

/** A straight stretch of a leg between its bends, in the direction of the flow, in the drawing. */
export interface Stretch {
  from: Xy;
  to: Xy;
  length: number;
}

const ARROW_EVERY_MM = 45;
/** Length and half width of an arrowhead, as shares of its channel's width. */
const ARROW_LENGTH = 0.62;
const ARROW_HALF = 0.3;

/** A round thing that covers the channel below it. */
export interface Cover {
  at: Xy;
  radius: number;
}

/** What is seen of stretches beside the covers on their way, of which other legs at a junction are one. */
export function seenOf(stretches: Stretch[], covers: Cover[]): Stretch[] {
  return stretches.flatMap((stretch) => {
    const { from, to, length } = stretch;
    if (length <= 0) return [];
    const [ux, uy] = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    const hidden = covers
      .map(({ at: [x, y], radius }) => ({
        along: (x - from[0]) * ux + (y - from[1]) * uy,
        aside: (y - from[1]) * ux - (x - from[0]) * uy,
        radius,
      }))
      .filter(({ along, aside, radius }) => Math.abs(aside) < 0.5 && along > -radius && along < length + radius)
      .sort((a, b) => a.along - b.along);
    const seen: Stretch[] = [];
    const add = (start: number, end: number): void => {
      if (end - start < 0.5) return;
      seen.push({ from: between(from, to, start / length), to: between(from, to, end / length), length: end - start });
    };
    let start = 0;
    for (const { along, radius } of hidden) {
      add(start, along - radius);
      start = Math.max(start, along + radius);
    }
    add(start, length);
    return seen;
  });
}

/** The straight stretches of a leg. */
export function stretchesOf(plan: PlanDoc, channel: ChannelDoc, leg: LegDoc): Stretch[] {
  const points = leg.points.map((point) => flip(plan, point));
  if (leg.flow_l_min < 0) points.reverse();
  const last = points.length - 2;
  return points.slice(0, -1).map((start, k) => {
    const end = points[k + 1]!;
    const whole = Math.hypot(end[0] - start[0], end[1] - start[1]);
    // A bend takes its radius off both its sides where they are long enough.
    const bend = Math.min(channel.bend_radius, whole / 2);
    const from = k > 0 ? bend / whole : 0;
    const to = k < last ? 1 - bend / whole : 1;
    return {
      from: between(start, end, from),
      to: between(start, end, to),
      length: Math.max(0, (to - from) * whole),
    };
  });
}

export function longestOf(stretches: Stretch[]): Stretch | null {
  return stretches.reduce<Stretch | null>((best, one) => (best && best.length >= one.length ? best : one), null);
}

/** Arrowheads along a leg as SVG path data; `free` mm in the middle of the stretch `written` stay for a number. */
export function arrowPath(stretches: Stretch[], width: number, written: Stretch | null, free: number): string {
  const length = ARROW_LENGTH * width;
  const half = ARROW_HALF * width;
  let path = "";
  for (const stretch of stretches) {
    if (stretch.length < 1.6 * length) continue;
    for (const at of arrowPlaces(stretch.length, length, stretch === written ? free : 0)) {
      const [x, y] = between(stretch.from, stretch.to, at / stretch.length);
      const [ux, uy] = [
        (stretch.to[0] - stretch.from[0]) / stretch.length,
        (stretch.to[1] - stretch.from[1]) / stretch.length,
      ];
      const tail = (side: number, back: number): string =>
        `${(x - back * ux - side * uy).toFixed(2)} ${(y - back * uy + side * ux).toFixed(2)}`;
      path += `M${tail(0, -length / 2)}L${tail(half, length / 2)}L${tail(0, length / 4)}L${tail(-half, length / 2)}Z`;
    }
  }
  return path;
}

/** Where the middles of arrowheads stand along a stretch. */
function arrowPlaces(whole: number, length: number, free: number): number[] {
  if (!free) {
    const count = Math.max(1, Math.round(whole / ARROW_EVERY_MM));
    return Array.from({ length: count }, (_, k) => ((k + 0.5) / count) * whole);
  }
  const side = (whole - free) / 2;
  if (side < 1.4 * length) return [];
  const count = Math.max(1, Math.round(side / ARROW_EVERY_MM));
  const places = Array.from({ length: count }, (_, k) => ((k + 0.5) / count) * side);
  return [...places, ...places.map((at) => whole - at)];
}

export function between(a: Xy, b: Xy, share: number): Xy {
  return [a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share];
}
