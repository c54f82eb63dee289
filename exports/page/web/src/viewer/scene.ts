/** The scene as the page carries it: what `exports/report/html/scene.py` packs. Lengths in mm, the panel's frame. */

export type Place = [number, number, number];

export interface Part {
  name: string;
  group: string;
  colour: string;
  vertices: number;
  triangles: number;
}

export interface Quantity {
  key: "velocity" | "drop" | "pressure";
  words: string;
  unit: string;
  /** From the least to the most, with how they are written. */
  ticks: number[];
  texts: string[];
  /** Whether between two ticks there is one colour, as in the plan of the local page. */
  banded: boolean;
}

export interface FlowLine {
  channel: string;
  start: string;
  end: string;
  points: Place[];
  width: number;
  flows: boolean;
  flow_l_min: number;
  velocity: number;
  drop: number;
  pressure: [number, number];
  text: string;
}

export interface Tube {
  name: string;
  port: string;
  part: string;
  points: Place[];
  outer: number;
}

export interface Finding {
  index: number;
  /** By which the plan names it; empty where it does not. */
  letter: string;
  severity: "fault" | "caution" | "note";
  code: string;
  text: string;
  at: Place | null;
  features: string[];
}

export interface Wall {
  text: string;
  ends: Place[];
  thin: boolean;
}

export interface Pocket {
  of: "air" | "coolant";
  text: string;
  at: Place;
  radius: number;
}

export interface Bore {
  mouth: Place;
  way: Place;
  length: number;
  radius: number;
  /** What its mouth is wider, at 45 degrees. */
  chamfer: number;
}

export interface Track {
  line: number[];
  width: number;
  z: [number, number];
}

export interface Prism {
  rings: number[][];
  z: [number, number];
}

export type Feature = { name: string; kind: string; at: Place } & (Bore | Track | Prism);

export interface Mesh {
  part: Part;
  /** x, y, z of each vertex. */
  places: Float32Array;
  /** Three vertices of each triangle. */
  corners: Uint32Array;
}

export interface Scene {
  name: string;
  ramp: string[];
  quantities: Quantity[];
  flow: FlowLine[];
  tubes: Tube[];
  findings: Finding[];
  walls: Wall[];
  pockets: Pocket[];
  features: Feature[];
  meshes: Mesh[];
}

interface Packed extends Omit<Scene, "meshes"> {
  version: number;
  origin: Place;
  quantum: number;
  parts: Part[];
}

const VERSION = 2;
const PLACE_BYTES = 2;
const CORNER_BYTES = 3;

/** Unpacks the text of the page's scene element. */
export async function readScene(text: string): Promise<Scene> {
  const { version, packed } = JSON.parse(text) as { version: number; packed: string };
  if (version !== VERSION) throw new Error(`the scene has version ${version}, this page reads ${VERSION}`);
  const bytes = await unzip(Uint8Array.from(atob(packed), (c) => c.charCodeAt(0)));
  const length = new DataView(bytes.buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(bytes.subarray(4, 4 + length))) as Packed;
  const { parts, origin, quantum, version: _, ...rest } = head;
  const meshes: Mesh[] = [];
  let at = 4 + length;
  for (const part of parts) {
    const size = 3 * (PLACE_BYTES * part.vertices + CORNER_BYTES * part.triangles);
    meshes.push(readMesh(part, bytes.subarray(at, at + size), origin, quantum));
    at += size;
  }
  return { ...rest, meshes };
}

async function unzip(bytes: Uint8Array<ArrayBuffer>): Promise<Uint8Array<ArrayBuffer>> {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

function readMesh(part: Part, data: Uint8Array, origin: Place, quantum: number): Mesh {
  const { vertices, triangles } = part;
  const places = new Float32Array(3 * vertices);
  for (let axis = 0; axis < 3; axis++) {
    const low = PLACE_BYTES * axis * vertices;
    const high = low + vertices;
    let place = 0;
    for (let k = 0; k < vertices; k++) {
      const signed = data[low + k]! | (data[high + k]! << 8);
      place = (place + ((signed >> 1) ^ -(signed & 1))) & 0xffff;
      places[3 * k + axis] = place * quantum + origin[axis]!;
    }
  }
  const from = 3 * PLACE_BYTES * vertices;
  const count = 3 * triangles;
  const corners = new Uint32Array(count);
  let met = 0;
  for (let k = 0; k < count; k++) {
    const back = data[from + k]! | (data[from + count + k]! << 8) | (data[from + 2 * count + k]! << 16);
    corners[k] = met - back;
    if (back === 0) met++;
  }
  return { part, places, corners };
}
