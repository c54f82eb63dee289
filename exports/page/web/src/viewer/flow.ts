import { BufferAttribute, BufferGeometry, Color, DoubleSide, Mesh, ShaderMaterial, Vector3 } from "three";
import type { CutPlane } from "./cut";
import { LineBuilder } from "./lines";
import { Scale } from "./scale";
import type { FlowLine, Quantity, Scene, Tube } from "./scene";
import { chosenScheme, type Scheme } from "./scheme";

/** Radius of the line with the most flow, as a share of its channel's width; with less flow it is thinner. */
const THICKEST = 0.2;
const THINNEST_SHARE = 0.6;
const STILL_SHARE = 0.45;
const ARROW_EVERY_MM = 45;
const ARROW_LENGTH = 5;
const ARROW_WIDTH = 2.3;

const VERTEX = `
attribute vec3 tint;
varying vec3 vTint;
varying vec3 vNormal;
#include <clipping_planes_pars_vertex>
void main() {
  vTint = tint;
  vNormal = normalMatrix * normal;
  vec4 mvPosition = modelViewMatrix * vec4(position, 1.0);
  gl_Position = projectionMatrix * mvPosition;
  #include <clipping_planes_vertex>
}`;

// Little shading, so that the colours stay those of the scale.
const FRAGMENT = `
varying vec3 vTint;
varying vec3 vNormal;
#include <clipping_planes_pars_fragment>
void main() {
  #include <clipping_planes_fragment>
  float facing = gl_FrontFacing ? abs(normalize(vNormal).z) : 0.0;
  gl_FragColor = vec4(vTint * mix(0.45, 1.0, smoothstep(0.05, 0.65, facing)), 1.0);
  #include <colorspace_fragment>
}`;

/** Ways of the coolant as lines in space with arrowheads, coloured by a quantity. */
export class FlowLines {
  readonly mesh: Mesh<BufferGeometry, ShaderMaterial>;
  /** Scale of the quantity that is shown. */
  scale: Scale;
  private readonly builder = new LineBuilder();
  private readonly tints: BufferAttribute;

  constructor(
    private readonly scene: Scene,
    private readonly cutPlane: CutPlane,
  ) {
    const most = Math.max(...scene.flow.map((line) => line.flow_l_min), 1e-9);
    for (const line of scene.flow) this.addLine(line, most);
    for (const tube of scene.tubes) this.builder.addLine(tube.points.map(toVector), tube.outer / 2);
    const { geometry } = this.builder.finish();
    this.tints = new BufferAttribute(new Float32Array(geometry.getAttribute("position").array.length), 3);
    geometry.setAttribute("tint", this.tints);
    const material = new ShaderMaterial({
      vertexShader: VERTEX,
      fragmentShader: FRAGMENT,
      clipping: true,
      side: DoubleSide,
      // Drawn after the see-through parts: its colours stay those of the scale.
      transparent: true,
    });
    this.mesh = new Mesh(geometry, material);
    this.mesh.renderOrder = 45;
    this.scale = new Scale(scene.quantities[0]!, scene.ramp, chosenScheme());
  }

  private addLine(line: FlowLine, most: number): void {
    const share = line.flows ? Math.max(THINNEST_SHARE, Math.sqrt(line.flow_l_min / most)) : STILL_SHARE;
    const radius = THICKEST * line.width * share;
    const points = line.points.map(toVector);
    const length = this.builder.addLine(points, radius);
    if (!line.flows) return;
    const count = Math.max(1, Math.round(length / ARROW_EVERY_MM));
    for (let k = 0; k < count; k++) {
      this.builder.addArrow(points, ((k + 0.5) / count) * length, ARROW_LENGTH * radius, ARROW_WIDTH * radius);
    }
  }

  /** Colours by a quantity. */
  paint(key: Quantity["key"], scheme: Scheme): void {
    this.scale = new Scale(this.scene.quantities.find((each) => each.key === key)!, this.scene.ramp, scheme);
    const still = new Color(scheme.still);
    const tube = new Color(scheme.tube);
    const colour = new Color();
    this.builder.eachVertex((vertex, number, share) => {
      const line = this.scene.flow[number];
      if (!line) colour.copy(tube);
      else if (!line.flows) colour.copy(still);
      else this.scale.colourAt(valueOf(line, key, share), colour);
      this.tints.setXYZ(vertex, colour.r, colour.g, colour.b);
    });
    this.tints.needsUpdate = true;
  }

  /** What a triangle belongs to. */
  lineOf(triangle: number): FlowLine | Tube {
    const number = this.builder.lineOf(triangle);
    return this.scene.flow[number] ?? this.scene.tubes[number - this.scene.flow.length]!;
  }

  update(): void {
    const { material } = this.mesh;
    const planes = this.cutPlane.planes;
    if (material.clippingPlanes?.length !== planes.length) material.needsUpdate = true;
    material.clippingPlanes = planes;
  }

  dispose(): void {
    this.mesh.geometry.dispose();
    this.mesh.material.dispose();
  }
}

/** A quantity at a share of a line's way. */
function valueOf(line: FlowLine, key: Quantity["key"], share: number): number {
  if (key !== "pressure") return line[key];
  const [start, end] = line.pressure;
  return start + (end - start) * share;
}

function toVector(place: [number, number, number]): Vector3 {
  return new Vector3(...place);
}
