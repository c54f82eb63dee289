import type { Box, Gesture, PlanDoc, ThingId, Xy } from "../messages";
import { sameXy } from "./panel_frame";
import { snap } from "./snap";
import { axisOf, boxCorner, boxSize, findThing, nameOf, placeOf, tellBox, tellPlace, type Thing } from "./things";

/** A thing in hand: where it was taken up, and where it is held. */
export interface Hold {
  readonly id: ThingId;
  readonly from: Spot;
  readonly now: Spot;
}

/** Where a thing stands: its place, its box where it has one, its turn where it is the pump. */
export interface Spot {
  readonly at: Xy;
  readonly box: Box | null;
  readonly turn: number | null;
}

/** One of the eight handles of a box: which sides it pulls, -1 low, 1 high, 0 none. */
export interface Handle {
  readonly x: -1 | 0 | 1;
  readonly y: -1 | 0 | 1;
}

/** Whether a thing may stand where it is held; "no layout": it may, but routes were not found for it there. */
export type Standing = "may" | "may not" | "refused" | "no layout" | "not known";

export interface Places {
  pitch: number;
  nodes: Xy[];
  why: string;
}

export function spotOf(thing: Thing): Spot | null {
  const at = placeOf(thing);
  if (!at) return null;
  const box = thing.kind === "clear" || thing.kind === "tank" ? thing.of.box : null;
  return { at, box, turn: thing.kind === "pump" ? thing.of.turn_deg : null };
}

export function takeUp(thing: Thing): Hold | null {
  const spot = spotOf(thing);
  return spot ? { id: thing.id, from: spot, now: spot } : null;
}

/** Holds it at the grid node nearest to a place, on the panel and, of an edge port, on its edge. */
export function holdAt(plan: PlanDoc, hold: Hold, thing: Thing, place: Xy): Hold {
  const { from, now } = hold;
  const size = now.box ? boxSize(now.box) : ([0, 0] as Xy);
  const free = axisOf(thing);
  const most: Xy = [plan.width - size[0], plan.height - size[1]];
  const at = place.map((value, axis) =>
    free !== null && free !== axis ? from.at[axis]! : snap(plan.pitch, value, 0, most[axis]!),
  ) as Xy;
  return { ...hold, now: { ...now, at, box: now.box && boxAt(at, size) } };
}

/** Holds it so many nodes further, from node to node. */
export function holdBy(plan: PlanDoc, hold: Hold, thing: Thing, steps: Xy): Hold {
  const { pitch } = plan;
  const place = hold.now.at.map((value, axis) => {
    const step = steps[axis]!;
    if (!step) return value;
    // What stands between nodes goes to the next one first.
    const node = step > 0 ? Math.floor(value / pitch + 1e-6) : Math.ceil(value / pitch - 1e-6);
    return (node + step) * pitch;
  }) as Xy;
  const held = holdAt(plan, hold, thing, place);
  // Across the way nothing is snapped: one key moves along one axis.
  const at = held.now.at.map((value, axis) => (steps[axis] ? value : hold.now.at[axis]!)) as Xy;
  return { ...held, now: { ...held.now, at, box: held.now.box && boxAt(at, boxSize(held.now.box)) } };
}

export function holdTurned(hold: Hold, turn: number): Hold {
  return { ...hold, now: { ...hold.now, turn } };
}

/** Pulls sides of a box to the node nearest to a place; it stays one pitch wide and high. */
export function holdResized(plan: PlanDoc, hold: Hold, handle: Handle, place: Xy): Hold {
  if (!hold.now.box) return hold;
  const box: Box = [...hold.now.box];
  const [x0, y0, x1, y1] = hold.from.box ?? box;
  const { pitch, width, height } = plan;
  if (handle.x < 0) box[0] = snap(pitch, place[0], 0, x1 - pitch);
  if (handle.x > 0) box[2] = snap(pitch, place[0], x0 + pitch, width);
  if (handle.y < 0) box[1] = snap(pitch, place[1], 0, y1 - pitch);
  if (handle.y > 0) box[3] = snap(pitch, place[1], y0 + pitch, height);
  return { ...hold, now: { ...hold.now, at: boxCorner(box), box } };
}

export function isMoved({ from, now }: Hold): boolean {
  return !sameXy(from.at, now.at) || from.turn !== now.turn || isResized({ from, now });
}

export function sameSpot(a: Spot, b: Spot): boolean {
  return sameXy(a.at, b.at) && a.turn === b.turn && String(a.box) === String(b.box);
}

/** Whether it may stand where it is held; of a box that was pulled larger or smaller nobody was asked. */
export function standingOf(hold: Hold, places: Places | null): Standing {
  if (!places || isResized(hold)) return "not known";
  // Where it stands is a place of the file, whatever its node.
  if (sameXy(hold.from.at, hold.now.at)) return "may";
  return places.nodes.some((node) => Math.hypot(node[0] - hold.now.at[0], node[1] - hold.now.at[1]) < 0.01)
    ? "may"
    : "may not";
}

/** What was done to it, as gestures; none where it stands as before. */
export function gesturesOf({ id, from, now }: Hold): Gesture[] {
  const out: Gesture[] = [];
  if (isResized({ from, now })) out.push({ box: id, to: now.box! });
  else if (!sameXy(from.at, now.at)) out.push({ move: id, to: now.at });
  if (now.turn !== null && now.turn !== from.turn) out.push({ turn: "pump", to: now.turn });
  return out;
}

/** What was done, in words: "move port fill to (75, 135) mm". */
export function tellHold(thing: Thing, { from, now }: Pick<Hold, "from" | "now">): string {
  const told: string[] = [];
  if (isResized({ from, now })) told.push(`make ${nameOf(thing)} ${tellBox(now.box!)}`);
  else if (!sameXy(from.at, now.at)) told.push(`move ${nameOf(thing)} to ${tellPlace(now.at)}`);
  if (now.turn !== from.turn) told.push(`turn the pump to ${now.turn} deg`);
  return told.join(" and ");
}

/** The plan with the thing where it is held; routes stay as they are. */
export function placeHeld(plan: PlanDoc, hold: Hold): PlanDoc {
  const thing = findThing(plan, hold.id);
  const spot = thing && spotOf(thing);
  if (!thing || !spot || sameSpot(spot, hold.now)) return plan;
  const said = `${nameOf(thing)} at ${tellPlace(hold.now.at)}`;
  const by: Xy = [hold.now.at[0] - spot.at[0], hold.now.at[1] - spot.at[1]];
  const shift = ([x, y]: Xy): Xy => [x + by[0], y + by[1]];
  if (thing.kind === "port") {
    const moved = { ...thing.of, at: hold.now.at, foot: shift(thing.of.foot), said };
    return { ...plan, ports: plan.ports.map((port) => (port.id === hold.id ? moved : port)) };
  }
  if (thing.kind === "clear") {
    const moved = { ...thing.of, box: hold.now.box! };
    return { ...plan, clears: plan.clears.map((clear) => (clear.id === hold.id ? moved : clear)) };
  }
  if (thing.kind === "tank") {
    const { outlet, posts } = thing.of;
    return { ...plan, tank: { ...thing.of, box: hold.now.box, outlet: shift(outlet), posts: posts.map(shift), said } };
  }
  if (thing.kind !== "pump") return plan;
  const turn = hold.now.turn ?? thing.of.turn_deg;
  const [from, to] = [thing.of.inlet, hold.now.at];
  const angle = ((turn - thing.of.turn_deg) * Math.PI) / 180;
  const carry = ([x, y]: Xy): Xy => {
    const [dx, dy] = [x - from[0], y - from[1]];
    return [to[0] + dx * Math.cos(angle) - dy * Math.sin(angle), to[1] + dx * Math.sin(angle) + dy * Math.cos(angle)];
  };
  const { outlet, screws } = thing.of;
  const moved = { inlet: to, outlet: carry(outlet), turn_deg: turn, screws: screws.map(carry) };
  return { ...plan, pump: { ...thing.of, ...moved, said: `${said}, turned ${turn} deg` } };
}

function isResized({ from, now }: Pick<Hold, "from" | "now">): boolean {
  return Boolean(from.box && now.box) && !sameXy(boxSize(from.box!), boxSize(now.box!));
}

function boxAt([x, y]: Xy, [wide, high]: Xy): Box {
  return [x, y, x + wide, y + high];
}
