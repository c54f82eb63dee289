import type { PlanDoc, Xy } from "../messages";
import { areaShared, flip, type Rect } from "./panel_frame";
import { snap } from "./snap";
import { rectOfThing, thingsOf } from "./things";

/**
 * The node for the lower left corner of a square that lies over nothing: of all those the nearest to where it was
 * wanted, and that itself where the plate has no such room. Lengths in mm.
 */
export function freeSpot(plan: PlanDoc, wanted: Xy, side: number): Xy {
  const { pitch, width, height } = plan;
  const [wide, high] = [width - side, height - side];
  const obstacles = obstaclesOf(plan);
  let best: Xy = [snap(pitch, wanted[0], 0, wide), snap(pitch, wanted[1], 0, high)];
  let least = Number.POSITIVE_INFINITY;
  for (let x = 0; x <= wide + 1e-6; x += pitch) {
    for (let y = 0; y <= high + 1e-6; y += pitch) {
      const far = Math.hypot(x - wanted[0], y - wanted[1]);
      if (far >= least) continue;
      const rect = { x, y: height - y - side, width: side, height: side };
      if (obstacles.some((other) => areaShared(rect, other) > 0)) continue;
      [best, least] = [[x, y], far];
    }
  }
  return best;
}

/** What things cover in the drawing; of channels each stretch, for between them there is room. */
function obstaclesOf(plan: PlanDoc): Rect[] {
  const standing = thingsOf(plan).filter((thing) => thing.kind !== "channel");
  const stretches = plan.channels.flatMap(({ legs, width }) =>
    legs.flatMap(({ points }) =>
      points.slice(1).map((point, k) => {
        const [from, to] = [flip(plan, points[k]!), flip(plan, point)];
        const [x, y] = [Math.min(from[0], to[0]) - width / 2, Math.min(from[1], to[1]) - width / 2];
        return { x, y, width: Math.abs(from[0] - to[0]) + width, height: Math.abs(from[1] - to[1]) + width };
      }),
    ),
  );
  return [...standing.map((thing) => rectOfThing(plan, thing)), ...stretches];
}
