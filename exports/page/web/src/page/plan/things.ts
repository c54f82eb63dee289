import { tellNumber } from "../figures";
import type { Box, ChannelDoc, ClearDoc, PlanDoc, PortDoc, PumpDoc, TankDoc, ThingId, Xy } from "../messages";
import { flip, isEdge, rectAround, rectOf, type Rect } from "./panel_frame";

export type Thing =
  | { kind: "tank"; id: ThingId; of: TankDoc }
  | { kind: "pump"; id: ThingId; of: PumpDoc }
  | { kind: "port"; id: ThingId; of: PortDoc }
  | { kind: "channel"; id: ThingId; of: ChannelDoc }
  | { kind: "clear"; id: ThingId; of: ClearDoc };

export type Kind = Thing["kind"];

/** In the order in which the keyboard comes to them. */
export const KINDS: Kind[] = ["tank", "pump", "port", "channel", "clear"];

/** All that can be pointed at, in the order in which the keyboard comes to it. */
export function thingsOf(plan: PlanDoc): Thing[] {
  return [
    { kind: "tank", id: plan.tank.id, of: plan.tank },
    { kind: "pump", id: "pump", of: plan.pump },
    ...plan.ports.map((of): Thing => ({ kind: "port", id: of.id, of })),
    ...plan.channels.map((of): Thing => ({ kind: "channel", id: of.id, of })),
    ...plan.clears.map((of): Thing => ({ kind: "clear", id: of.id, of })),
  ];
}

export function findThing(plan: PlanDoc | null, id: ThingId | null): Thing | null {
  return plan && id !== null ? (thingsOf(plan).find((thing) => thing.id === id) ?? null) : null;
}

/** The place by which a thing is moved: a port's mouth, the pump's inlet, the lower left corner of a box. */
export function placeOf(thing: Thing): Xy | null {
  if (thing.kind === "port") return thing.of.at;
  if (thing.kind === "pump") return thing.of.inlet;
  if (thing.kind === "channel") return null;
  return thing.kind === "tank" && !thing.of.box ? thing.of.outlet : boxCorner(thing.of.box!);
}

export function isMovable(thing: Thing): boolean {
  return thing.kind === "clear" || (thing.kind !== "channel" && thing.of.movable);
}

/** What a thing covers in the drawing, mm. */
export function rectOfThing(plan: PlanDoc, thing: Thing): Rect {
  if (thing.kind === "port") return rectAround(flip(plan, thing.of.at), thing.of.collar_radius);
  if (thing.kind === "pump") return rectAround(flip(plan, thing.of.inlet), pumpRadius(thing.of));
  if (thing.kind === "clear") return rectOf(plan, thing.of.box);
  if (thing.kind === "tank") {
    return thing.of.box ? rectOf(plan, thing.of.box) : rectAround(flip(plan, thing.of.outlet), 6);
  }
  const points = thing.of.legs.flatMap((leg) => leg.points.map((point) => flip(plan, point)));
  const half = thing.of.width / 2;
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  const [x, y] = [Math.min(...xs) - half, Math.min(...ys) - half];
  return { x, y, width: Math.max(...xs) + half - x, height: Math.max(...ys) + half - y };
}

export function pumpRadius(pump: PumpDoc): number {
  return Math.max(pump.seat_radius, pump.inlet_radius + 2);
}

export function boxCorner([x0, y0]: Box): Xy {
  return [x0, y0];
}

export function boxSize([x0, y0, x1, y1]: Box): Xy {
  return [x1 - x0, y1 - y0];
}

/** Of a pump with quarter turns: what it is turned to by so many quarters, counter-clockwise. */
export function turnBy(pump: PumpDoc, quarters: number): number {
  return (((pump.turn_deg + 90 * quarters) % 360) + 360) % 360;
}

/** In words, with its kind: "port fill", "pump", "keep-clear box cable slot". */
export function nameOf(thing: Thing): string {
  if (thing.kind === "tank" || thing.kind === "pump") return thing.kind;
  if (thing.kind === "clear") return `keep-clear box ${thing.of.name || Number(thing.id.slice(6)) + 1}`;
  return `${thing.kind} ${thing.of.name}`;
}

/** All that is told of a thing, with what holds of it. */
export function tell(thing: Thing): string {
  const parts = [thing.kind === "clear" ? `${nameOf(thing)}: ${tellBox(thing.of.box)}` : thing.of.said];
  if (thing.kind === "channel" && thing.of.kept) parts.push("its route is kept");
  if (thing.kind !== "channel" && thing.kind !== "clear") {
    if (thing.of.pinned) parts.push("pinned");
    if (!thing.of.movable) parts.push(thing.kind === "port" ? "its place follows from others" : "not to be moved here");
  }
  return parts.join(", ");
}

export function tellBox(box: Box): string {
  const [wide, high] = boxSize(box);
  return `${tellNumber(wide)} × ${tellNumber(high)} mm, lower left corner at ${tellPlace(boxCorner(box))}`;
}

/** "(75, 135) mm". */
export function tellPlace([x, y]: Xy): string {
  return `(${tellNumber(x)}, ${tellNumber(y)}) mm`;
}

/** Along which axis a thing can be moved alone: along its edge; null: along both. */
export function axisOf(thing: Thing): 0 | 1 | null {
  if (thing.kind !== "port" || !isEdge(thing.of.on)) return null;
  return thing.of.on === "left" || thing.of.on === "right" ? 1 : 0;
}
