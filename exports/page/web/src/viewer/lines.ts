import { BufferAttribute, BufferGeometry, Vector3 } from "three";

const SIDES = 10;

interface Ring {
  at: Vector3;
  way: Vector3;
  radius: number;
  /** Of the line's length, 0 to 1. */
  share: number;
}

/** Builds round lines and arrowheads along polylines, all in one geometry. */
export class LineBuilder {
  private readonly places: number[] = [];
  private readonly normals: number[] = [];
  private readonly index: number[] = [];
  private readonly shares: number[] = [];
  /** Number of the line of each vertex. */
  private readonly lines: number[] = [];
  private count = 0;

  /** Adds a line and returns its length. */
  addLine(points: Vector3[], radius: number): number {
    const length = lengthOf(points);
    const rings: Ring[] = [];
    let run = 0;
    points.forEach((at, k) => {
      const before = points[k - 1];
      const after = points[k + 1];
      if (before) run += at.distanceTo(before);
      const into = before ? at.clone().sub(before).normalize() : null;
      const out = after ? after.clone().sub(at).normalize() : null;
      const way = (into && out ? into.clone().add(out) : (into ?? out ?? new Vector3(0, 0, 1))).normalize();
      rings.push({ at, way, radius, share: length > 0 ? run / length : 0 });
    });
    this.addRings(rings, this.count);
    this.count++;
    return length;
  }

  /** Adds an arrowhead to the line added last, its middle at a length along it. */
  addArrow(points: Vector3[], along: number, length: number, radius: number): void {
    const whole = lengthOf(points);
    const { at, way } = placeAlong(points, along);
    const back = at.clone().addScaledVector(way, -length / 2);
    const tip = at.clone().addScaledVector(way, length / 2);
    const share = whole > 0 ? along / whole : 0;
    const ring = (place: Vector3, size: number): Ring => ({ at: place, way, radius: size, share });
    this.addRings([ring(back, 0.01), ring(back, radius)], this.count - 1, way.clone().negate());
    this.addRings([ring(back, radius), ring(tip, 0.01)], this.count - 1);
  }

  finish(): { geometry: BufferGeometry } {
    const geometry = new BufferGeometry();
    geometry.setAttribute("position", new BufferAttribute(new Float32Array(this.places), 3));
    geometry.setAttribute("normal", new BufferAttribute(new Float32Array(this.normals), 3));
    geometry.setIndex(this.index);
    return { geometry };
  }

  eachVertex(visit: (vertex: number, line: number, share: number) => void): void {
    this.lines.forEach((line, vertex) => visit(vertex, line, this.shares[vertex]!));
  }

  lineOf(triangle: number): number {
    return this.lines[this.index[3 * triangle]!]!;
  }

  private addRings(rings: Ring[], line: number, normal?: Vector3): void {
    const start = this.places.length / 3;
    let across = anyAcross(rings[0]!.way);
    for (const { at, way, radius, share } of rings) {
      // The last ring's direction, brought square to this one: the line does not twist.
      across = across.clone().addScaledVector(way, -across.dot(way)).normalize();
      const other = new Vector3().crossVectors(way, across);
      for (let side = 0; side < SIDES; side++) {
        const angle = (2 * Math.PI * side) / SIDES;
        const out = across.clone().multiplyScalar(Math.cos(angle)).addScaledVector(other, Math.sin(angle));
        this.places.push(at.x + radius * out.x, at.y + radius * out.y, at.z + radius * out.z);
        this.normals.push(...(normal ?? out).toArray());
        this.shares.push(share);
        this.lines.push(line);
      }
    }
    for (let ring = 0; ring + 1 < rings.length; ring++) {
      for (let side = 0; side < SIDES; side++) {
        const a = start + ring * SIDES + side;
        const b = start + ring * SIDES + ((side + 1) % SIDES);
        this.index.push(a, b, a + SIDES, b, b + SIDES, a + SIDES);
      }
    }
  }
}

function lengthOf(points: Vector3[]): number {
  return points.reduce((sum, point, k) => (k === 0 ? 0 : sum + point.distanceTo(points[k - 1]!)), 0);
}

function placeAlong(points: Vector3[], along: number): { at: Vector3; way: Vector3 } {
  let left = along;
  for (let k = 1; k < points.length; k++) {
    const [from, to] = [points[k - 1]!, points[k]!];
    const length = from.distanceTo(to);
    if (left <= length || k === points.length - 1) {
      const way = to.clone().sub(from).normalize();
      return { at: from.clone().addScaledVector(way, left), way };
    }
    left -= length;
  }
  return { at: points[0]!.clone(), way: new Vector3(0, 0, 1) };
}

function anyAcross(way: Vector3): Vector3 {
  const least = Math.abs(way.x) < 0.6 ? new Vector3(1, 0, 0) : new Vector3(0, 1, 0);
  return new Vector3().crossVectors(way, least).normalize();
}
