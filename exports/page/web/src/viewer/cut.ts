import {
  BackSide,
  DecrementWrapStencilOp,
  DoubleSide,
  FrontSide,
  IncrementWrapStencilOp,
  Mesh,
  MeshBasicMaterial,
  NotEqualStencilFunc,
  Plane,
  PlaneGeometry,
  ReplaceStencilOp,
  ShaderMaterial,
  Vector3,
  type BufferGeometry,
  type ColorRepresentation,
  Color,
  type Object3D,
  type Side,
} from "three";

export type Axis = "x" | "y" | "z";
export const AXES: readonly Axis[] = ["x", "y", "z"];

/** Where the panel is cut; `turned` shows the half behind the plane instead of that before it. */
export interface Cut {
  axis: Axis | null;
  at: number;
  turned: boolean;
}

/** A cut beside a face of the solid, not in it: in the face the two would blink. */
const BESIDE_MM = 0.004;

/** The cut's plane; what lies on its far side is not drawn. */
export class CutPlane {
  readonly plane = new Plane(new Vector3(1, 0, 0), 0);
  private cut: Cut = { axis: null, at: 0, turned: false };

  get isOn(): boolean {
    return this.cut.axis !== null;
  }

  /** The planes that materials are clipped by: one, or none. */
  get planes(): Plane[] {
    return this.isOn ? [this.plane] : [];
  }

  move(cut: Cut): void {
    this.cut = { ...cut };
    if (cut.axis === null) return;
    const side = cut.turned ? 1 : -1;
    this.plane.normal.set(0, 0, 0).setComponent(AXES.indexOf(cut.axis), side);
    this.plane.constant = -side * (cut.at + BESIDE_MM);
  }

  /** Whether a place is drawn. */
  keeps(place: Vector3): boolean {
    return !this.isOn || this.plane.distanceToPoint(place) >= 0;
  }
}

const HATCH_VERTEX = `void main() { gl_Position = projectionMatrix * modelViewMatrix * vec4(position, 1.0); }`;

// The strokes keep their distance on the screen, as on a drawing.
const HATCH_FRAGMENT = `
uniform vec3 colour;
uniform vec3 ink;
uniform vec2 across;
uniform float pitch;
void main() {
  float stroke = abs(fract(dot(gl_FragCoord.xy, across) / pitch) - 0.5) * pitch;
  float on = pitch > 0.0 ? 1.0 - smoothstep(0.7, 1.5, stroke) : 0.0;
  gl_FragColor = vec4(mix(colour, ink, 0.6 * on), 1.0);
  #include <colorspace_fragment>
}`;

/** Closes a cut solid: counts its skins before and behind each pixel and fills the plane where it is inside. */
export class Cap {
  readonly objects: Object3D[];
  private readonly cap: Mesh<PlaneGeometry, ShaderMaterial>;
  private readonly counters: Mesh<BufferGeometry, MeshBasicMaterial>[];

  constructor(
    private readonly cutPlane: CutPlane,
    skin: BufferGeometry,
    order: number,
    size: number,
    hatch: number | null,
  ) {
    this.counters = [
      counter(skin, BackSide, order),
      counter(skin, FrontSide, order),
    ];
    const material = new ShaderMaterial({
      vertexShader: HATCH_VERTEX,
      fragmentShader: HATCH_FRAGMENT,
      uniforms: {
        colour: { value: new Color() },
        ink: { value: new Color() },
        across: { value: { x: Math.cos(hatch ?? 0), y: Math.sin(hatch ?? 0) } },
        pitch: { value: 0 },
      },
      side: DoubleSide,
      stencilWrite: true,
      stencilFunc: NotEqualStencilFunc,
      stencilRef: 0,
      stencilFail: ReplaceStencilOp,
      stencilZFail: ReplaceStencilOp,
      stencilZPass: ReplaceStencilOp,
    });
    this.cap = new Mesh(new PlaneGeometry(size, size), material);
    this.cap.renderOrder = order + 0.5;
    this.cap.frustumCulled = false;
    this.cap.onAfterRender = (renderer) => renderer.clearStencil();
    this.hatched = hatch !== null;
    this.objects = [...this.counters, this.cap];
  }

  private readonly hatched: boolean;

  colour(fill: ColorRepresentation, ink: ColorRepresentation): void {
    const { colour, ink: line } = this.cap.material.uniforms;
    (colour!.value as Color).set(fill);
    (line!.value as Color).set(ink);
  }

  /** Follows the cut's plane; `shown` is whether the part is. */
  update(centre: Vector3, shown: boolean, pixelRatio: number): void {
    const on = shown && this.cutPlane.isOn;
    for (const object of this.objects) object.visible = on;
    if (!on) return;
    for (const mesh of this.counters) mesh.material.clippingPlanes = this.cutPlane.planes;
    this.cap.material.uniforms.pitch!.value = this.hatched ? 9 * pixelRatio : 0;
    this.cutPlane.plane.projectPoint(centre, this.cap.position);
    this.cap.lookAt(this.cap.position.clone().add(this.cutPlane.plane.normal));
    this.cap.updateMatrixWorld();
  }

  dispose(): void {
    this.cap.geometry.dispose();
    this.cap.material.dispose();
    for (const mesh of this.counters) mesh.material.dispose();
  }
}

function counter(skin: BufferGeometry, side: Side, order: number): Mesh<BufferGeometry, MeshBasicMaterial> {
  const op = side === BackSide ? IncrementWrapStencilOp : DecrementWrapStencilOp;
  const material = new MeshBasicMaterial({
    side,
    colorWrite: false,
    depthWrite: false,
    depthTest: false,
    stencilWrite: true,
    stencilZPass: op,
    stencilZFail: op,
    stencilFail: op,
  });
  const mesh = new Mesh(skin, material);
  mesh.renderOrder = order;
  return mesh;
}
