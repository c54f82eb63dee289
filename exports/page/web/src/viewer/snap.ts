import {
  DoubleSide,
  Matrix4,
  Raycaster,
  Vector2,
  Vector3,
  Vector4,
  type Intersection,
  type PerspectiveCamera,
} from "three";
import type { CutPlane } from "./cut";
import type { PartGroup } from "./parts";

/** What of the solid a place is on; "cut" is the face that the cut lays open. */
export type SnappedTo = "corner" | "edge" | "cut" | "surface";

export interface Snapped {
  at: Vector3;
  on: SnappedTo;
}

/** How near the pointer a corner or an edge takes it, [px]. */
const CORNER_PX = 9;
const EDGE_PX = 6;
/** What lies this much nearer hides a place, [mm]: one on an edge lies on the surfaces beside it, but for rounding. */
const BEFORE_MM = 0.1;
/** So near the cut's plane a place is on it, [mm]. */
const ON_CUT_MM = 0.01;
/** Of the places beside the pointer so many are looked at, the best first: each costs a ray. */
const MOST_LOOKED_AT = 6;

/** Lines that take the pointer: x, y, z of both ends, one after the other. */
interface Lines {
  /** Edges of the solid, as far as they are drawn: their ends are corners. */
  edges: Float32Array;
  /** Where the cut meets the skin: its ends are only where triangles end. */
  rims: Float32Array;
}

/** Finds the place of the solid that the pointer means: a corner or an edge beside it, else the surface under it. */
export class Snapper {
  private readonly ray = new Raycaster();
  private lines: Lines = { edges: new Float32Array(), rims: new Float32Array() };
  private linesOf = "";

  constructor(
    private readonly groups: PartGroup[],
    private readonly cutPlane: CutPlane,
  ) {}

  /** `x` and `y` in pixels from the upper left of a picture of `width` by `height`. */
  snap(x: number, y: number, width: number, height: number, camera: PerspectiveCamera): Snapped | null {
    this.ray.setFromCamera(new Vector2((2 * x) / width - 1, 1 - (2 * y) / height), camera);
    const hit = this.hit(camera);
    return this.near(x, y, width, height, camera) ?? hit;
  }

  /** Whether nothing that is drawn lies before a place. */
  private isSeen(at: Vector3, camera: PerspectiveCamera): boolean {
    const way = at.clone().sub(camera.position);
    this.ray.set(camera.position, way.clone().normalize());
    const hit = this.hit(camera);
    return !hit || hit.at.distanceTo(camera.position) >= way.length() - BEFORE_MM;
  }

  private hit(camera: PerspectiveCamera): Snapped | null {
    const shown = this.groups.filter((group) => group.visible);
    const laidOpen = this.cutPlane.isOn && !this.cutPlane.keeps(camera.position) ? this.onCut(shown) : null;
    if (laidOpen) return { at: laidOpen, on: "cut" };
    const surfaces = shown.map((group) => group.surface);
    const hits = this.ray.intersectObjects(surfaces, false).filter((each) => this.cutPlane.keeps(each.point));
    const solid = hits.find((each) => !shown.find((group) => group.surface === each.object)?.seeThrough);
    const hit: Intersection | undefined = solid ?? hits[0];
    return hit ? { at: hit.point, on: "surface" } : null;
  }

  /** Where the ray meets the cut inside a part: it leaves that part an odd number of times behind it. */
  private onCut(shown: PartGroup[]): Vector3 | null {
    const at = this.ray.ray.intersectPlane(this.cutPlane.plane, new Vector3());
    if (!at) return null;
    const from = this.ray.ray.origin.distanceTo(at);
    const inside = shown.some(({ surface }) => {
      const { side } = surface.material;
      surface.material.side = DoubleSide;
      const hits = this.ray.intersectObject(surface, false);
      surface.material.side = side;
      return hits.filter((hit) => hit.distance > from).length % 2 === 1;
    });
    return inside ? at : null;
  }

  /** The corner, else the edge, beside the pointer that is nearest to it and seen. */
  private near(x: number, y: number, width: number, height: number, camera: PerspectiveCamera): Snapped | null {
    const project = new Matrix4().multiplyMatrices(camera.projectionMatrix, camera.matrixWorldInverse);
    const { edges, rims } = this.linesNow();
    const offered: (Snapped & { rank: number })[] = [];
    // Where the cut is seen, who points at its rim means the wall there, not an edge that runs behind it.
    const seesCut = this.cutPlane.isOn && !this.cutPlane.keeps(camera.position);
    const isBehind = (at: Vector3) => seesCut && Math.abs(this.cutPlane.plane.distanceToPoint(at)) > ON_CUT_MM;
    const offer = (on: SnappedTo, at: Vector3, off: number) => {
      const after = on === "corner" ? 0 : isBehind(at) ? CORNER_PX + EDGE_PX : CORNER_PX;
      offered.push({ on, at, rank: off + after });
    };
    const a = new Vector4();
    const b = new Vector4();
    for (const [places, corners] of [
      [edges, true],
      [rims, false],
    ] as const) {
      for (let k = 0; k < places.length; k += 6) {
        a.set(places[k]!, places[k + 1]!, places[k + 2]!, 1).applyMatrix4(project);
        b.set(places[k + 3]!, places[k + 4]!, places[k + 5]!, 1).applyMatrix4(project);
        if (a.w <= 0 || b.w <= 0) continue;
        const [ax, ay] = [((a.x / a.w + 1) / 2) * width, ((1 - a.y / a.w) / 2) * height];
        const [bx, by] = [((b.x / b.w + 1) / 2) * width, ((1 - b.y / b.w) / 2) * height];
        if (Math.min(ax, bx) > x + CORNER_PX || Math.max(ax, bx) < x - CORNER_PX) continue;
        if (Math.min(ay, by) > y + CORNER_PX || Math.max(ay, by) < y - CORNER_PX) continue;
        if (corners) {
          const [offA, offB] = [Math.hypot(ax - x, ay - y), Math.hypot(bx - x, by - y)];
          if (offA <= CORNER_PX) offer("corner", placeAt(places, k), offA);
          if (offB <= CORNER_PX) offer("corner", placeAt(places, k + 3), offB);
        }
        const length = (bx - ax) ** 2 + (by - ay) ** 2;
        const share = length > 0 ? Math.max(0, Math.min(1, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length)) : 0;
        const off = Math.hypot(ax + share * (bx - ax) - x, ay + share * (by - ay) - y);
        if (off > EDGE_PX) continue;
        // What is halfway in the picture is not so in space: what is nearer looks longer.
        const along = share / b.w / ((1 - share) / a.w + share / b.w);
        offer("edge", placeAt(places, k).lerp(placeAt(places, k + 3), along), off);
      }
    }
    offered.sort((one, other) => one.rank - other.rank);
    // Edges that meet give the same corner.
    const known = (at: Vector3, k: number) => offered.slice(Math.max(0, k - 3), k).some((other) => other.at.equals(at));
    const apart = offered.filter(({ at }, k) => !known(at, k));
    return apart.slice(0, MOST_LOOKED_AT).find(({ at }) => this.isSeen(at, camera)) ?? null;
  }

  /** The lines of what is shown now; made anew only when that or the cut has changed. */
  private linesNow(): Lines {
    const shown = this.groups.filter((group) => group.visible);
    const { plane, isOn } = this.cutPlane;
    const cut = isOn ? `${plane.normal.toArray()} ${plane.constant}` : "";
    const of = `${shown.map((group) => group.name).join()} ${cut}`;
    if (of === this.linesOf) return this.lines;
    const edges: number[] = [];
    const rims: number[] = [];
    for (const group of shown) {
      const places = group.edgePlaces;
      if (isOn) {
        clipLines(places, this.cutPlane, edges);
        cutSkin(group, this.cutPlane, rims);
      } else {
        for (const place of places) edges.push(place);
      }
    }
    this.lines = { edges: new Float32Array(edges), rims: new Float32Array(rims) };
    this.linesOf = of;
    return this.lines;
  }
}

function placeAt(places: ArrayLike<number>, k: number): Vector3 {
  return new Vector3(places[k]!, places[k + 1]!, places[k + 2]!);
}

/** Adds what of lines lies in the half that is drawn. */
function clipLines(places: ArrayLike<number>, { plane }: CutPlane, out: number[]): void {
  for (let k = 0; k < places.length; k += 6) {
    const [a, b] = [placeAt(places, k), placeAt(places, k + 3)];
    const [da, db] = [plane.distanceToPoint(a), plane.distanceToPoint(b)];
    if (da < 0 && db < 0) continue;
    const met = da * db < 0 ? a.clone().lerp(b, da / (da - db)) : null;
    const [from, to] = [da < 0 && met ? met : a, db < 0 && met ? met : b];
    out.push(...from.toArray(), ...to.toArray());
  }
}

/** Adds where the cut's plane meets the triangles of a skin. */
function cutSkin(group: PartGroup, { plane }: CutPlane, out: number[]): void {
  const { position } = group.surface.geometry.attributes;
  const index = group.surface.geometry.index!.array;
  const places = position!.array;
  const { x, y, z } = plane.normal;
  const far = new Float32Array(places.length / 3);
  for (let v = 0; v < far.length; v++) {
    far[v] = x * places[3 * v]! + y * places[3 * v + 1]! + z * places[3 * v + 2]! + plane.constant;
  }
  for (let t = 0; t < index.length; t += 3) {
    const met: Vector3[] = [];
    for (let k = 0; k < 3; k++) {
      const [a, b] = [index[t + k]!, index[t + ((k + 1) % 3)]!];
      const [da, db] = [far[a]!, far[b]!];
      if (da < 0 === db < 0) continue;
      met.push(placeAt(places, 3 * a).lerp(placeAt(places, 3 * b), da / (da - db)));
    }
    if (met.length === 2) out.push(...met[0]!.toArray(), ...met[1]!.toArray());
  }
}
