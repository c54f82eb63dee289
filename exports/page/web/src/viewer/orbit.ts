import { PerspectiveCamera, Vector3, type Box3 } from "three";

/** Where the reader looks from: angles in degrees, from the front where both are 0; lengths in mm. */
export interface Look {
  yaw: number;
  pitch: number;
  distance: number;
  target: [number, number, number];
}

const FIELD_DEG = 28;
const FLIGHT_MS = 550;
const MOST_PITCH = 90;
const FIT_ROUNDS = 8;
const FIT_MARGIN = 1.06;
const RAD = Math.PI / 180;

/** A camera that turns round a target, with flights from one look to another. */
export class Orbit {
  readonly camera = new PerspectiveCamera(FIELD_DEG, 1, 1, 10000);
  private look: Look = { yaw: 0, pitch: 0, distance: 500, target: [0, 0, 0] };
  private flight: { from: Look; to: Look; since: number } | null = null;

  /**
   * `box` holds the panel, `shown` also what of its tubes is seen from the first, `drawn` all that there is: nothing of
   * it is ever cut off.
   */
  constructor(
    private readonly box: Box3,
    private readonly shown: Box3,
    private readonly drawn: Box3,
    private readonly changed: () => void,
  ) {}

  get state(): Look {
    return { ...this.look, target: [...this.look.target] };
  }

  /** Where a flight ends; without one, where the reader looks from. */
  get aim(): Look {
    return this.flight?.to ?? this.look;
  }

  set(look: Look): void {
    this.flight = null;
    this.look = this.hold(look);
    this.changed();
  }

  /** Goes to a look: at once where the reader wants no motion. */
  fly(look: Look): void {
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
      this.set(look);
      return;
    }
    const from = this.state;
    const turn = ((look.yaw - from.yaw + 540) % 360) - 180;
    this.flight = { from, to: this.hold({ ...look, yaw: from.yaw + turn }), since: performance.now() };
    this.changed();
  }

  /** The look from a side that shows the whole panel, and where its tubes begin. */
  whole(yaw: number, pitch: number): Look {
    const [right, up, back] = axesOf({ yaw, pitch });
    const tall = Math.tan((FIELD_DEG * RAD) / 2);
    const wide = tall * this.camera.aspect;
    const target = this.shown.getCenter(new Vector3());
    let distance = 4 * this.radius;
    // What is nearer looks larger: the middle of the picture is not that of the panel.
    for (let round = 0; round < FIT_ROUNDS; round++) {
      const [low, high] = [new Vector3(Infinity, Infinity), new Vector3(-Infinity, -Infinity)];
      let reach = 0;
      for (const corner of cornersOf(this.shown)) {
        const at = corner.sub(target);
        const deep = distance - at.dot(back);
        const seen = new Vector3(at.dot(right) / (wide * deep), at.dot(up) / (tall * deep));
        low.min(seen);
        high.max(seen);
        reach = Math.max(reach, at.dot(back));
      }
      target.addScaledVector(right, ((low.x + high.x) / 2) * wide * distance);
      target.addScaledVector(up, ((low.y + high.y) / 2) * tall * distance);
      const fill = Math.max(high.x - low.x, high.y - low.y) / 2;
      distance = reach + (distance - reach) * fill * FIT_MARGIN;
    }
    return { yaw, pitch, distance, target: target.toArray() };
  }

  /** The look at a place, near enough to see `size` mm round it. */
  near(place: Vector3, size: number): Look {
    const distance = size / Math.tan((FIELD_DEG * RAD) / 2);
    return { ...this.look, distance, target: place.toArray() };
  }

  turn(yaw: number, pitch: number): void {
    this.set({ ...this.look, yaw: this.look.yaw + yaw, pitch: this.look.pitch + pitch });
  }

  /** Moves the panel under the camera by shares of the view's height. */
  pan(right: number, up: number): void {
    const size = 2 * this.look.distance * Math.tan((FIELD_DEG * RAD) / 2);
    const [x, y] = axesOf(this.look);
    const target = new Vector3(...this.look.target)
      .addScaledVector(x, -right * size)
      .addScaledVector(y, -up * size);
    this.set({ ...this.look, target: target.toArray() });
  }

  /** Takes the distance times a factor; what lies under `at` (-1 to 1 from the middle) stays there. */
  zoom(factor: number, at: [number, number] = [0, 0]): void {
    const before = this.look.distance;
    this.look = this.hold({ ...this.look, distance: before * factor });
    const share = (1 - before / this.look.distance) / 2;
    this.pan(at[0] * this.camera.aspect * share, at[1] * share);
  }

  /** Takes a new shape of the picture; what was in it stays in it. */
  resize(aspect: number): void {
    const { x, y } = this.box.getSize(new Vector3());
    const needed = (wide: number) => Math.max(1, x / Math.max(y, 1) / wide);
    const factor = needed(aspect) / needed(this.camera.aspect);
    this.camera.aspect = aspect;
    this.set({ ...this.look, distance: this.look.distance * factor });
  }

  /** Sets the camera for the next frame; true while a flight goes on. */
  update(now: number): boolean {
    if (this.flight) {
      const { from, to, since } = this.flight;
      const share = Math.min(1, (now - since) / FLIGHT_MS);
      this.look = between(from, to, share * share * (3 - 2 * share));
      if (share >= 1) this.flight = null;
    }
    const { distance, target } = this.look;
    const [, up, back] = axesOf(this.look);
    this.camera.up.copy(up);
    this.camera.position.set(...target).addScaledVector(back, distance);
    this.camera.lookAt(...target);
    const wide = this.drawn.getSize(new Vector3()).length();
    const near = this.drawn.distanceToPoint(this.camera.position);
    this.camera.near = Math.max(1, near - wide / 2, (near + wide) / 2000);
    this.camera.far = near + 1.5 * wide;
    this.camera.updateProjectionMatrix();
    this.camera.updateMatrixWorld();
    return this.flight !== null;
  }

  private get radius(): number {
    return this.box.getSize(new Vector3()).length() / 2;
  }

  private hold(look: Look): Look {
    return {
      yaw: look.yaw,
      pitch: Math.max(-MOST_PITCH, Math.min(MOST_PITCH, look.pitch)),
      distance: Math.max(5, Math.min(12 * this.radius, look.distance)),
      target: look.target,
    };
  }
}

function cornersOf({ min, max }: Box3): Vector3[] {
  return Array.from(
    { length: 8 },
    (_, k) => new Vector3(k & 1 ? max.x : min.x, k & 2 ? max.y : min.y, k & 4 ? max.z : min.z),
  );
}

/** To the right, up and towards the reader, as the panel's directions. */
function axesOf({ yaw, pitch }: Pick<Look, "yaw" | "pitch">): [Vector3, Vector3, Vector3] {
  const [y, p] = [yaw * RAD, pitch * RAD];
  const back = new Vector3(Math.cos(p) * Math.sin(y), Math.sin(p), Math.cos(p) * Math.cos(y));
  const up = new Vector3(-Math.sin(p) * Math.sin(y), Math.cos(p), -Math.sin(p) * Math.cos(y));
  return [new Vector3(Math.cos(y), 0, -Math.sin(y)), up, back];
}

function between(from: Look, to: Look, share: number): Look {
  const mix = (a: number, b: number) => a + (b - a) * share;
  return {
    yaw: mix(from.yaw, to.yaw),
    pitch: mix(from.pitch, to.pitch),
    distance: Math.exp(mix(Math.log(from.distance), Math.log(to.distance))),
    target: [0, 1, 2].map((k) => mix(from.target[k]!, to.target[k]!)) as Look["target"],
  };
}
