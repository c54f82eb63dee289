import {
  Color,
  DoubleSide,
  FrontSide,
  LineBasicMaterial,
  LineSegments,
  Mesh,
  MeshLambertMaterial,
  type Object3D,
  type Vector3,
} from "three";
import { Cap, type CutPlane } from "./cut";
import type { Mesh as PackedMesh } from "./scene";
import type { Scheme } from "./scheme";
import { makeSkin, type Skin } from "./skin";

/** Hatch of each group's cut, as an angle; those without one are filled. */
const HATCHES: Record<string, number> = {
  body: Math.PI / 4,
  cover: -Math.PI / 4,
  "front cover": -Math.PI / 4,
};

/** Parts that are shown and hidden together. */
export class PartGroup {
  readonly objects: Object3D[];
  readonly surface: Mesh<Skin["surface"], MeshLambertMaterial>;
  private readonly edges: LineSegments<Skin["edges"], LineBasicMaterial>;
  private readonly cap: Cap;
  private readonly skin: Skin;
  private opacity = 1;

  constructor(
    readonly name: string,
    private readonly meshes: PackedMesh[],
    private readonly cutPlane: CutPlane,
    order: number,
    size: number,
  ) {
    this.skin = makeSkin(meshes);
    this.surface = new Mesh(
      this.skin.surface,
      new MeshLambertMaterial({ polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 }),
    );
    this.edges = new LineSegments(this.skin.edges, new LineBasicMaterial({ transparent: true }));
    this.edges.renderOrder = 40;
    this.surface.renderOrder = 30 + order;
    this.cap = new Cap(cutPlane, this.skin.surface, order, size, HATCHES[name] ?? null);
    this.objects = [this.surface, this.edges, ...this.cap.objects];
  }

  get visible(): boolean {
    return this.surface.visible;
  }

  get seeThrough(): boolean {
    return this.opacity < 1;
  }

  /** x, y, z of both ends of each edge that is drawn. */
  get edgePlaces(): ArrayLike<number> & Iterable<number> {
    return this.skin.edges.attributes.position!.array;
  }

  /** The part that a triangle of the surface belongs to. */
  partOf(triangle: number): string {
    const number = this.skin.ends.findIndex((end) => triangle < end);
    return this.meshes[number]?.part.name ?? this.name;
  }

  paint(scheme: Scheme): void {
    const fill = new Color(this.name === "coolant" ? scheme.coolant : this.meshes[0]!.part.colour);
    if (this.name !== "coolant") fill.multiplyScalar(scheme.shade);
    this.surface.material.color.copy(fill);
    this.edges.material.color.set(scheme.edge);
    this.edges.material.opacity = scheme.edgeOpacity;
    this.cap.colour(fill, scheme.edge);
  }

  /** Shows it with an opacity; 0 hides it. */
  show(opacity: number): void {
    this.opacity = opacity;
    const { material } = this.surface;
    this.surface.visible = this.edges.visible = opacity > 0;
    material.opacity = opacity;
    const clear = opacity < 1;
    if (material.transparent !== clear) {
      material.transparent = clear;
      material.depthWrite = !clear;
      material.side = clear ? DoubleSide : FrontSide;
      material.needsUpdate = true;
    }
  }

  update(centre: Vector3, pixelRatio: number): void {
    const planes = this.cutPlane.planes;
    for (const { material } of [this.surface, this.edges]) {
      if (material.clippingPlanes?.length !== planes.length) material.needsUpdate = true;
      material.clippingPlanes = planes;
    }
    this.cap.update(centre, this.visible, pixelRatio);
  }

  dispose(): void {
    this.skin.surface.dispose();
    this.skin.edges.dispose();
    this.surface.material.dispose();
    this.edges.material.dispose();
    this.cap.dispose();
  }
}
