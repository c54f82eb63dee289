import { BufferAttribute, BufferGeometry } from "three";
import type { Mesh } from "./scene";

/** Faces that meet flatter than this are one round wall, others meet at an edge. Meshes turn by 0.45 rad at most. */
const CREASE = Math.cos((32 * Math.PI) / 180);

/** Normals closer than this are one. */
const SAME = 0.9995;

/** A group of parts, ready to be drawn: round walls smooth, edges sharp and as lines of their own. */
export interface Skin {
  surface: BufferGeometry;
  edges: BufferGeometry;
  /** The first triangle behind each part's, in the order of the meshes. */
  ends: number[];
}

/** Joins the meshes of one group and finds their normals and edges. */
export function makeSkin(meshes: Mesh[]): Skin {
  const places: number[] = [];
  const normals: number[] = [];
  const edges: number[] = [];
  const index: number[] = [];
  const ends: number[] = [];
  for (const mesh of meshes) {
    addMesh(mesh, places, normals, index, edges);
    ends.push(index.length / 3);
  }
  const surface = new BufferGeometry();
  surface.setAttribute("position", new BufferAttribute(new Float32Array(places), 3));
  surface.setAttribute("normal", new BufferAttribute(new Float32Array(normals), 3));
  surface.setIndex(new BufferAttribute(new Uint32Array(index), 1));
  const lines = new BufferGeometry();
  lines.setAttribute("position", new BufferAttribute(new Float32Array(edges), 3));
  return { surface, edges: lines, ends };
}

function addMesh(mesh: Mesh, places: number[], normals: number[], index: number[], edges: number[]): void {
  const { places: p, corners: c } = mesh;
  const flat = faceNormals(p, c);
  const weights = Float32Array.from(c, (_, corner) => angleAt(p, c, corner));
  const { first, around } = cornersAround(p.length / 3, c);
  const made = new Uint32Array(c.length);
  const sum: [number, number, number] = [0, 0, 0];
  for (let vertex = 0; vertex < p.length / 3; vertex++) {
    const from = first[vertex]!;
    const to = first[vertex + 1]!;
    const mine = places.length / 3;
    for (let i = from; i < to; i++) {
      const corner = around[i]!;
      const face = 3 * Math.floor(corner / 3);
      sum[0] = sum[1] = sum[2] = 0;
      for (let j = from; j < to; j++) {
        const other = 3 * Math.floor(around[j]! / 3);
        if (dot(flat, face, flat, other) < CREASE) continue;
        const weight = weights[around[j]!]!;
        for (let k = 0; k < 3; k++) sum[k]! += weight * flat[other + k]!;
      }
      const length = Math.hypot(...sum) || 1;
      for (let k = 0; k < 3; k++) sum[k]! /= length;
      let number = mine;
      while (number < places.length / 3 && dot(normals, 3 * number, sum, 0) < SAME) number++;
      if (number === places.length / 3) {
        places.push(p[3 * vertex]!, p[3 * vertex + 1]!, p[3 * vertex + 2]!);
        normals.push(...sum);
      }
      made[corner] = number;
    }
  }
  for (const number of made) index.push(number);
  addEdges(p, c, flat, first, around, edges);
}

function faceNormals(p: Float32Array, c: Uint32Array): Float32Array {
  const out = new Float32Array(c.length);
  for (let t = 0; t < c.length; t += 3) {
    const [a, b, d] = [3 * c[t]!, 3 * c[t + 1]!, 3 * c[t + 2]!];
    const [ux, uy, uz] = [p[b]! - p[a]!, p[b + 1]! - p[a + 1]!, p[b + 2]! - p[a + 2]!];
    const [vx, vy, vz] = [p[d]! - p[a]!, p[d + 1]! - p[a + 1]!, p[d + 2]! - p[a + 2]!];
    const [x, y, z] = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
    const length = Math.hypot(x, y, z) || 1;
    out[t] = x / length;
    out[t + 1] = y / length;
    out[t + 2] = z / length;
  }
  return out;
}

/** The corners at each vertex, one run after the other; `first` tells where each run starts. */
function cornersAround(count: number, c: Uint32Array): { first: Uint32Array; around: Uint32Array } {
  const first = new Uint32Array(count + 1);
  for (const vertex of c) first[vertex + 1]!++;
  for (let k = 0; k < count; k++) first[k + 1]! += first[k]!;
  const next = first.slice(0, count);
  const around = new Uint32Array(c.length);
  for (let corner = 0; corner < c.length; corner++) around[next[c[corner]!]!++] = corner;
  return { first, around };
}

function angleAt(p: Float32Array, c: Uint32Array, corner: number): number {
  const face = corner - (corner % 3);
  const a = 3 * c[corner]!;
  const b = 3 * c[face + ((corner + 1) % 3)]!;
  const d = 3 * c[face + ((corner + 2) % 3)]!;
  const [ux, uy, uz] = [p[b]! - p[a]!, p[b + 1]! - p[a + 1]!, p[b + 2]! - p[a + 2]!];
  const [vx, vy, vz] = [p[d]! - p[a]!, p[d + 1]! - p[a + 1]!, p[d + 2]! - p[a + 2]!];
  const length = Math.hypot(ux, uy, uz) * Math.hypot(vx, vy, vz);
  return length > 0 ? Math.acos(Math.max(-1, Math.min(1, (ux * vx + uy * vy + uz * vz) / length))) : 0;
}

function addEdges(
  p: Float32Array,
  c: Uint32Array,
  flat: Float32Array,
  first: Uint32Array,
  around: Uint32Array,
  edges: number[],
): void {
  for (let corner = 0; corner < c.length; corner++) {
    const face = corner - (corner % 3);
    const a = c[corner]!;
    const b = c[face + ((corner + 1) % 3)]!;
    if (a > b) continue;
    for (let i = first[a]!; i < first[a + 1]!; i++) {
      const other = around[i]! - (around[i]! % 3);
      if (c[other + ((around[i]! + 2) % 3)] !== b) continue;
      if (dot(flat, face, flat, other) < CREASE) {
        for (const v of [a, b]) edges.push(p[3 * v]!, p[3 * v + 1]!, p[3 * v + 2]!);
      }
      break;
    }
  }
}

function dot(a: ArrayLike<number>, i: number, b: ArrayLike<number>, j: number): number {
  return a[i]! * b[j]! + a[i + 1]! * b[j + 1]! + a[i + 2]! * b[j + 2]!;
}
