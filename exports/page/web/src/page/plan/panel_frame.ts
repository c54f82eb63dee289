import type { Box, PlanDoc, Xy } from "../messages";

export type EdgeName = "top" | "bottom" | "left" | "right";

/** Out of the panel, in the drawing: y down. */
const OUT: Record<EdgeName, Xy> = { top: [0, -1], bottom: [0, 1], left: [-1, 0], right: [1, 0] };

export function isEdge(on: string): on is EdgeName {
  return on in OUT;
}

export function wayOut(edge: EdgeName): Xy {
  return OUT[edge];
}

/** From the panel frame, y up, to the drawing, y down from the panel's top edge; and back. */
export function flip(plan: PlanDoc, [x, y]: Xy): Xy {
  return [x, plan.height - y];
}

export interface Rect {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** A box of the panel frame as a rectangle of the drawing. */
export function rectOf(plan: PlanDoc, [x0, y0, x1, y1]: Box): Rect {
  return { x: x0, y: plan.height - y1, width: x1 - x0, height: y1 - y0 };
}

export function rectAround([x, y]: Xy, half: number, tall = half): Rect {
  return { x: x - half, y: y - tall, width: 2 * half, height: 2 * tall };
}

export function areaShared(a: Rect, b: Rect): number {
  const wide = Math.min(a.x + a.width, b.x + b.width) - Math.max(a.x, b.x);
  const high = Math.min(a.y + a.height, b.y + b.height) - Math.max(a.y, b.y);
  return wide > 0 && high > 0 ? wide * high : 0;
}

export function holds({ x, y, width, height }: Rect, [px, py]: Xy): boolean {
  return px >= x && px <= x + width && py >= y && py <= y + height;
}

export function sameXy(a: Xy, b: Xy): boolean {
  return Math.abs(a[0] - b[0]) < 1e-6 && Math.abs(a[1] - b[1]) < 1e-6;
}
