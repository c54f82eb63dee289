import type { ThingId, Xy } from "../messages";
import type { Handle } from "./holding";

/** So far, in pixels, a pointer is still and only clicks. */
const STILL_PX = 4;
const WHEEL_ZOOM = 1.0016;
const LINE_PX = 16;
const TWICE_MS = 400;

/** Where a pointer went down. */
export interface Target {
  thing: ThingId | null;
  handle: Handle | null;
  finding: number | null;
}

export interface PointerHooks {
  /** Whether one finger on the plate moves the drawing; while all of the plate is shown it moves the page. */
  near(): boolean;
  /** Whether a finger may take a thing: one that was tapped before, else each scroll begun on a thing would move it. */
  isSelected(thing: ThingId): boolean;
  pan(dx: number, dy: number): void;
  zoom(factor: number, about: Xy): void;
  hover(thing: ThingId | null): void;
  /** A click, or a press on something that does not move. */
  click(target: Target): void;
  open(thing: ThingId): void;
  /** Whether the target is taken up, or stays and the drawing too; else that is moved. `at`: where it was pressed. */
  take(target: Target, at: Xy): "taken" | "stays" | "none";
  drag(at: Xy): void;
  drop(): void;
  /** The drag was broken off: a second finger, or the browser took the pointer. */
  cancel(): void;
}

type Doing =
  | { what: "nothing" }
  | { what: "pressed"; target: Target; start: Xy }
  | { what: "dragging" }
  | { what: "staying" }
  | { what: "panning" }
  | { what: "pinching" };

/**
 * Pointers over the stage: one drags a thing or the drawing, two move and zoom it; the wheel zooms about its place.
 * Wheel and finger move the page where the plan was not taken in hand, as on the solid.
 */
export class Pointers {
  private readonly down = new Map<number, Xy>();
  private doing: Doing = { what: "nothing" };
  private corner = { left: 0, top: 0 };
  private finger = matchMedia("(pointer: coarse)").matches;
  private clicked: { thing: ThingId | null; time: number } = { thing: null, time: 0 };

  constructor(
    private readonly stage: SVGSVGElement,
    private readonly hooks: PointerHooks,
  ) {
    // Comes before the press of a finger, so that what is told of that is told to fingers.
    stage.addEventListener("pointerenter", (event) => {
      this.finger = isFinger(event);
    });
    stage.addEventListener("pointerdown", (event) => this.press(event));
    stage.addEventListener("pointermove", (event) => this.move(event));
    stage.addEventListener("pointerup", (event) => this.lift(event));
    stage.addEventListener("pointercancel", (event) => this.lose(event));
    stage.addEventListener("pointerleave", () => hooks.hover(null));
    stage.addEventListener(
      "wheel",
      (event) => {
        // A pinch on a touchpad comes as a wheel with Control held.
        if (!event.ctrlKey && !stage.contains(document.activeElement)) return;
        event.preventDefault();
        const step = event.deltaY * (event.deltaMode === WheelEvent.DOM_DELTA_LINE ? LINE_PX : 1);
        hooks.zoom(WHEEL_ZOOM ** -step, this.placeOf(event));
      },
      { passive: false },
    );
    stage.addEventListener(
      "touchstart",
      (event) => {
        // Two fingers are the drawing's, though one alone may move the page, and so is one on what it takes along:
        // browsers do not heed `touch-action` on parts of a drawing.
        const movable = event.target instanceof Element && event.target.closest(".movable, .handle");
        const drags = movable && this.mayTake(targetOf(event));
        if ((drags || event.touches.length > 1) && event.cancelable) event.preventDefault();
      },
      { passive: false },
    );
  }

  /** Whether the plan is worked on a touch screen, as far as is known. */
  get byFinger(): boolean {
    return this.finger;
  }

  /** Lets go of what is dragged, though the pointer is still down: Escape. */
  breakOff(): void {
    if (this.doing.what === "dragging") this.doing = { what: "nothing" };
  }

  /** In the stage as it lay when the pointer went down: what grows beside it meanwhile moves nothing that is held. */
  private placeOf({ clientX, clientY }: MouseEvent): Xy {
    if (!this.down.size) this.corner = this.stage.getBoundingClientRect();
    return [clientX - this.corner.left, clientY - this.corner.top];
  }

  private press(event: PointerEvent): void {
    if (event.pointerType === "mouse" && event.button > 1) return;
    // The focus goes where the click says, not where the browser thinks.
    event.preventDefault();
    const at = this.placeOf(event);
    this.down.set(event.pointerId, at);
    this.stage.setPointerCapture(event.pointerId);
    if (this.down.size === 2) {
      if (this.doing.what === "dragging") this.hooks.cancel();
      this.doing = { what: "pinching" };
    } else if (this.down.size === 1) {
      this.doing = event.button === 1 ? { what: "panning" } : { what: "pressed", target: targetOf(event), start: at };
    }
  }

  private move(event: PointerEvent): void {
    const at = this.placeOf(event);
    const before = this.down.get(event.pointerId);
    if (!before) {
      if (this.doing.what === "nothing") this.hooks.hover(targetOf(event).thing);
      return;
    }
    const { doing } = this;
    if (doing.what === "pinching") return this.pinch(event.pointerId, at);
    if (doing.what === "pressed") {
      const [x, y] = doing.start;
      if (Math.hypot(at[0] - x, at[1] - y) < STILL_PX) return;
      const finger = isFinger(event);
      let taken = finger && !this.mayTake(doing.target) ? "none" : this.hooks.take(doing.target, doing.start);
      if (taken === "none" && finger && !this.hooks.near()) taken = "stays";
      this.doing = { what: ({ taken: "dragging", stays: "staying", none: "panning" } as const)[taken] };
      if (taken === "none") this.hooks.pan(at[0] - x, at[1] - y);
    } else if (doing.what === "panning") this.hooks.pan(at[0] - before[0], at[1] - before[1]);
    this.down.set(event.pointerId, at);
    if (this.doing.what === "dragging") this.hooks.drag(at);
  }

  private mayTake({ thing }: Target): boolean {
    return thing !== null && this.hooks.isSelected(thing);
  }

  private pinch(pointer: number, at: Xy): void {
    const other = [...this.down].find(([id]) => id !== pointer)?.[1];
    const before = this.down.get(pointer)!;
    this.down.set(pointer, at);
    if (!other) return;
    const [was, now] = [before, at].map(([x, y]) => Math.hypot(x - other[0], y - other[1])) as Xy;
    // Both fingers move the drawing, each by half of its way.
    this.hooks.pan((at[0] - before[0]) / 2, (at[1] - before[1]) / 2);
    if (was > 1) this.hooks.zoom(now / was, [(at[0] + other[0]) / 2, (at[1] + other[1]) / 2]);
  }

  private lift(event: PointerEvent): void {
    if (!this.down.delete(event.pointerId)) return;
    const { doing } = this;
    if (doing.what === "pinching") {
      this.doing = { what: this.down.size ? "panning" : "nothing" };
      return;
    }
    if (this.down.size) return;
    this.doing = { what: "nothing" };
    if (doing.what === "dragging") this.hooks.drop();
    if (doing.what === "pressed") this.click(doing.target, event.timeStamp);
  }

  /** A captured pointer's own double click would be one on the stage. */
  private click(target: Target, time: number): void {
    const again = target.thing !== null && target.thing === this.clicked.thing && time - this.clicked.time < TWICE_MS;
    this.clicked = { thing: target.thing, time };
    this.hooks.click(target);
    if (again) this.hooks.open(target.thing!);
  }

  private lose(event: PointerEvent): void {
    if (!this.down.delete(event.pointerId)) return;
    if (this.doing.what === "dragging") this.hooks.cancel();
    this.doing = { what: this.down.size ? "panning" : "nothing" };
  }
}

/** Pens scroll pages as fingers do. */
function isFinger({ pointerType }: PointerEvent): boolean {
  return pointerType === "touch" || pointerType === "pen";
}

function targetOf(event: Event): Target {
  const element = event.target instanceof Element ? event.target : null;
  const read = (name: string): string | null => element?.closest(`[${name}]`)?.getAttribute(name) ?? null;
  const [handle, finding] = [read("data-handle"), read("data-finding")];
  const [x, y] = (handle ?? "").split(" ").map(Number);
  return {
    thing: read("data-thing") ?? read("data-hit"),
    handle: handle === null ? null : ({ x, y } as Handle),
    finding: finding === null ? null : Number(finding),
  };
}
