import { Vector3 } from "three";
import type { Feature, Scene } from "./scene";

/** Meshes lie this near their features. */
const NEAR_MM = 0.15;

/** The smallest feature that holds a place on a part's skin, or that it lies on. */
export function featureAt(scene: Scene, at: Vector3): Feature | null {
  let best: Feature | null = null;
  let least = Infinity;
  for (const feature of scene.features) {
    const size = sizeOf(feature);
    if (size < least && holds(feature, at)) [best, least] = [feature, size];
  }
  return best;
}

/** The feature that is called so, or that stands for the channel or port called so. */
export function featureCalled(scene: Scene, name: string): Feature | null {
  const { features } = scene;
  return (
    features.find((feature) => feature.name === name) ??
    features.find((feature) => feature.name === `channel ${name}`) ??
    features.find((feature) => feature.name.startsWith(`port ${name} `)) ??
    features.find((feature) => feature.name.startsWith(`${name} `)) ??
    null
  );
}

function sizeOf(feature: Feature): number {
  if ("rings" in feature) {
    const ring = feature.rings[0]!;
    const [xs, ys] = [ring.filter((_, k) => k % 2 === 0), ring.filter((_, k) => k % 2 === 1)];
    return (Math.max(...xs) - Math.min(...xs)) * (Math.max(...ys) - Math.min(...ys)) * (feature.z[1] - feature.z[0]);
  }
  if ("line" in feature) return feature.line.length * feature.width * (feature.z[1] - feature.z[0]);
  return Math.PI * feature.radius ** 2 * feature.length;
}

function holds(feature: Feature, at: Vector3): boolean {
  if (!("z" in feature)) {
    const from = at.clone().sub(new Vector3(...feature.mouth));
    const along = from.dot(new Vector3(...feature.way));
    if (along < -NEAR_MM || along > feature.length + NEAR_MM) return false;
    const wider = Math.max(0, feature.chamfer - along);
    return Math.sqrt(Math.max(0, from.lengthSq() - along * along)) <= feature.radius + wider + NEAR_MM;
  }
  if (at.z < feature.z[0] - NEAR_MM || at.z > feature.z[1] + NEAR_MM) return false;
  if ("line" in feature) return distanceToLine(feature.line, false, at) <= feature.width / 2 + NEAR_MM;
  const inside = feature.rings.reduce((odd, ring) => odd !== isInside(ring, at), false);
  return inside || feature.rings.some((ring) => distanceToLine(ring, true, at) <= NEAR_MM);
}

function isInside(ring: number[], { x, y }: Vector3): boolean {
  let inside = false;
  for (let k = 0, before = ring.length - 2; k < ring.length; before = k, k += 2) {
    const [ax, ay, bx, by] = [ring[k]!, ring[k + 1]!, ring[before]!, ring[before + 1]!];
    if (ay > y !== by > y && x < ((bx - ax) * (y - ay)) / (by - ay) + ax) inside = !inside;
  }
  return inside;
}

function distanceToLine(line: number[], closed: boolean, { x, y }: Vector3): number {
  let least = Infinity;
  for (let k = closed ? 0 : 2; k < line.length; k += 2) {
    const from = (k + line.length - 2) % line.length;
    const [ax, ay] = [line[from]!, line[from + 1]!];
    const [ux, uy] = [line[k]! - ax, line[k + 1]! - ay];
    const length = ux * ux + uy * uy;
    const share = length > 0 ? Math.max(0, Math.min(1, ((x - ax) * ux + (y - ay) * uy) / length)) : 0;
    least = Math.min(least, Math.hypot(x - ax - share * ux, y - ay - share * uy));
  }
  return least;
}
