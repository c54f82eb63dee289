import {
  BufferGeometry,
  CylinderGeometry,
  Group,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshBasicMaterial,
  MeshLambertMaterial,
  OctahedronGeometry,
  Quaternion,
  SphereGeometry,
  Vector3,
  type Object3D,
} from "three";
import type { CutPlane } from "./cut";
import type { Feature, Place, Pocket, Scene, Wall } from "./scene";
import type { Scheme } from "./scheme";

export type MarkSort = "walls" | "air" | "stays";

const BAR_MM = 1.1;
const DOT_MM = 1.5;
const UP = new Vector3(0, 1, 0);

/** Walls, pockets and the outline of what was picked, drawn over the parts. */
export class Marks {
  readonly groups: Record<MarkSort, Group> = { walls: new Group(), air: new Group(), stays: new Group() };
  readonly outline: LineSegments<BufferGeometry, LineBasicMaterial>;
  private readonly texts = new Map<Object3D, string>();
  private readonly wall = new MeshBasicMaterial({ depthTest: false, transparent: true });
  private readonly pockets = {
    air: new MeshLambertMaterial({ depthTest: false, transparent: true, opacity: 0.85 }),
    stays: new MeshLambertMaterial({ depthTest: false, transparent: true, opacity: 0.85 }),
  };

  constructor(scene: Scene) {
    for (const wall of scene.walls) this.addWall(wall);
    for (const pocket of scene.pockets) this.addPocket(pocket);
    this.outline = new LineSegments(
      new BufferGeometry(),
      new LineBasicMaterial({ depthTest: false, transparent: true }),
    );
    this.outline.renderOrder = 60;
    this.outline.visible = false;
    this.outline.frustumCulled = false;
  }

  get objects(): Object3D[] {
    return [...Object.values(this.groups), this.outline];
  }

  /** What is said of a mark. */
  textOf(object: Object3D): string {
    return this.texts.get(object) ?? "";
  }

  /** Hides what lies in the half that is cut away. */
  update(cut: CutPlane): void {
    for (const object of this.texts.keys()) object.visible = cut.keeps(object.position);
  }

  paint(scheme: Scheme): void {
    this.wall.color.set(scheme.wall);
    this.pockets.air.color.set(scheme.air);
    this.pockets.stays.color.set(scheme.stays);
    this.outline.material.color.set(scheme.mark);
  }

  /** Draws round a feature; null takes the outline away. */
  mark(feature: Feature | null): void {
    this.outline.visible = feature !== null;
    if (!feature) return;
    this.outline.geometry.dispose();
    this.outline.geometry = new BufferGeometry().setFromPoints(outlineOf(feature));
  }

  dispose(): void {
    for (const group of Object.values(this.groups)) {
      for (const child of group.children) (child as Mesh).geometry.dispose();
    }
    this.wall.dispose();
    this.pockets.air.dispose();
    this.pockets.stays.dispose();
    this.outline.geometry.dispose();
    this.outline.material.dispose();
  }

  private addWall(wall: Wall): void {
    const [from, to] = wall.ends.map((end) => new Vector3(...end)) as [Vector3, Vector3?];
    let mesh: Mesh;
    if (to) {
      mesh = new Mesh(new CylinderGeometry(BAR_MM, BAR_MM, Math.max(from.distanceTo(to), 0.5), 12), this.wall);
      mesh.position.copy(from).lerp(to, 0.5);
      mesh.quaternion.copy(new Quaternion().setFromUnitVectors(UP, to.clone().sub(from).normalize()));
    } else {
      mesh = new Mesh(new OctahedronGeometry(DOT_MM), this.wall);
      mesh.position.copy(from);
    }
    this.add("walls", mesh, wall.text);
  }

  private addPocket(pocket: Pocket): void {
    const sort = pocket.of === "air" ? "air" : "stays";
    const mesh = new Mesh(new SphereGeometry(pocket.radius, 20, 14), this.pockets[sort]);
    mesh.position.set(...pocket.at);
    this.add(sort, mesh, pocket.text);
  }

  private add(sort: MarkSort, mesh: Mesh, text: string): void {
    mesh.renderOrder = 50;
    mesh.updateMatrixWorld();
    this.groups[sort].add(mesh);
    this.texts.set(mesh, text);
  }
}

function outlineOf(feature: Feature): Vector3[] {
  const lines: Vector3[] = [];
  const join = (points: Vector3[], closed: boolean) => {
    const last = closed ? points.length : points.length - 1;
    for (let k = 0; k < last; k++) lines.push(points[k]!, points[(k + 1) % points.length]!);
  };
  if ("rings" in feature) {
    for (const ring of feature.rings) for (const z of feature.z) join(pointsOf(ring, z), true);
  } else if ("line" in feature) {
    for (const z of feature.z) join(pointsOf(feature.line, z), false);
  } else {
    for (const along of [0, feature.length]) join(circle(feature.mouth, feature.way, along, feature.radius), true);
  }
  return lines;
}

function pointsOf(flat: number[], z: number): Vector3[] {
  return Array.from({ length: flat.length / 2 }, (_, k) => new Vector3(flat[2 * k]!, flat[2 * k + 1]!, z));
}

function circle(mouth: Place, way: Place, along: number, radius: number): Vector3[] {
  const turn = new Quaternion().setFromUnitVectors(UP, new Vector3(...way));
  return Array.from({ length: 36 }, (_, k) => {
    const angle = (k * Math.PI) / 18;
    return new Vector3(radius * Math.cos(angle), along, radius * Math.sin(angle))
      .applyQuaternion(turn)
      .add(new Vector3(...mouth));
  });
}
