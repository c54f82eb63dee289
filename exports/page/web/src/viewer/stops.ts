import { Vector3 } from "three";
import type { Shown } from "./controls";
import { nameFinding } from "./pins";
import type { FlowLine, Place, Scene } from "./scene";

/** A mark that the reader is led to: where it is, what is said of it, the feature that it stands for. */
export interface Stop {
  at: Vector3;
  text: string;
  feature: string;
  /** Number of the finding in the page's list, where it is one. */
  finding: number | null;
}

/** All marks that are shown, in order: findings, walls, pockets, pieces of the flow, tubes. */
export function listStops(scene: Scene, shown: Shown): Stop[] {
  const stops: Stop[] = [];
  const add = (at: Place, text: string, feature = "", finding: number | null = null) =>
    stops.push({ at: new Vector3(...at), text, feature, finding });
  if (shown.pins) {
    for (const each of scene.findings) {
      if (each.at) add(each.at, `${nameFinding(each)}. ${each.text}`, each.features[0], each.index);
    }
  }
  if (shown.walls) for (const { ends, text } of scene.walls) add(middle(ends), text);
  for (const { of, at, text } of scene.pockets) if (of === "air" ? shown.air : shown.stays) add(at, text);
  if (shown.flow !== null) {
    for (const line of scene.flow) add(along(line.points), tellPiece(line), `channel ${line.channel}`);
    for (const tube of scene.tubes) add(tube.points[0]!, `${tube.name}: ${tube.port} to ${tube.part}`);
  }
  return stops;
}

/** "pump outlet to block inlet: 2.1 L/min, ..." */
export function tellPiece(line: FlowLine): string {
  return `${line.start} to ${line.end}: ${line.text}`;
}

function middle(ends: Place[]): Place {
  const [from, to] = [ends[0]!, ends.at(-1)!];
  return [0, 1, 2].map((k) => (from[k]! + to[k]!) / 2) as Place;
}

/** Halfway along a line. */
function along(points: Place[]): Place {
  const ways = points.map((point) => new Vector3(...point));
  const lengths = ways.map((way, k) => (k === 0 ? 0 : way.distanceTo(ways[k - 1]!)));
  let left = lengths.reduce((sum, length) => sum + length, 0) / 2;
  for (let k = 1; k < ways.length; k++) {
    if (left <= lengths[k]!) {
      return ways[k - 1]!.clone().lerp(ways[k]!, lengths[k]! > 0 ? left / lengths[k]! : 0).toArray();
    }
    left -= lengths[k]!;
  }
  return points.at(-1)!;
}
