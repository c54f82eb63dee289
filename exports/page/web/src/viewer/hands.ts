import type { Orbit } from "./orbit";

const TURN_DEG_PER_PX = 0.4;
const KEY_TURN_DEG = 10;
const KEY_PAN = 0.08;
const KEY_ZOOM = 1.2;

/** A press that moved less is a click, [px]. */
const STILL_PX = 4;

/** What a press without a drag does. */
export interface Presses {
  click(x: number, y: number): void;
  double(x: number, y: number): void;
  hover(x: number, y: number): void;
  leave(): void;
  home(): void;
  escape(): void;
  enter(): void;
}

/** Turns, moves and zooms by mouse, fingers and keys. */
export function takeHands(canvas: HTMLCanvasElement, orbit: Orbit, presses: Presses): () => void {
  const down = new Map<number, { x: number; y: number }>();
  let moved = 0;
  const stop = new AbortController();
  const listen = <K extends keyof HTMLElementEventMap>(
    type: K,
    answer: (event: HTMLElementEventMap[K]) => void,
    options: AddEventListenerOptions = {},
  ) => canvas.addEventListener(type, answer, { ...options, signal: stop.signal });
  const place = (event: MouseEvent): [number, number] => {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };

  listen("pointerdown", (event) => {
    if (down.size === 0) moved = 0;
    canvas.setPointerCapture(event.pointerId);
    down.set(event.pointerId, { x: event.clientX, y: event.clientY });
  });
  listen("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) {
      if (event.pointerType !== "touch") presses.hover(...place(event));
      return;
    }
    const [dx, dy] = [event.clientX - before.x, event.clientY - before.y];
    moved += Math.hypot(dx, dy);
    if (moved < STILL_PX) return;
    presses.leave();
    const height = canvas.clientHeight;
    if (down.size === 2) {
      const [a, b] = [...down.values()] as [typeof before, typeof before];
      const old = Math.hypot(a.x - b.x, a.y - b.y);
      Object.assign(before, { x: event.clientX, y: event.clientY });
      orbit.zoom(old / Math.max(1, Math.hypot(a.x - b.x, a.y - b.y)));
      orbit.pan(dx / 2 / height, -dy / 2 / height);
      return;
    }
    Object.assign(before, { x: event.clientX, y: event.clientY });
    if (event.shiftKey || event.buttons & 6) orbit.pan(dx / height, -dy / height);
    else orbit.turn(-dx * TURN_DEG_PER_PX, dy * TURN_DEG_PER_PX);
  });
  const release = (event: PointerEvent) => down.delete(event.pointerId);
  listen("pointerup", release);
  listen("pointercancel", release);
  listen("pointerleave", () => presses.leave());
  listen("click", (event) => {
    if (moved < STILL_PX) presses.click(...place(event));
  });
  listen("dblclick", (event) => presses.double(...place(event)));
  listen("contextmenu", (event) => event.preventDefault());
  // Where the picture was not taken in hand, the wheel moves the page.
  listen(
    "wheel",
    (event) => {
      if (document.activeElement !== canvas && !event.ctrlKey) return;
      event.preventDefault();
      const [x, y] = place(event);
      const at: [number, number] = [(2 * x) / canvas.clientWidth - 1, 1 - (2 * y) / canvas.clientHeight];
      orbit.zoom(Math.exp(Math.sign(event.deltaY) * Math.min(0.25, Math.abs(event.deltaY) / 600)), at);
    },
    { passive: false },
  );
  listen("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const answer = answerTo(event, orbit, presses);
    if (!answer) return;
    event.preventDefault();
    answer();
  });
  return () => stop.abort();
}

function answerTo(event: KeyboardEvent, orbit: Orbit, presses: Presses): (() => void) | undefined {
  const arrows: Record<string, [number, number]> = {
    ArrowLeft: [-1, 0],
    ArrowRight: [1, 0],
    ArrowUp: [0, 1],
    ArrowDown: [0, -1],
  };
  const arrow = arrows[event.key];
  if (arrow) {
    const [x, y] = arrow;
    return event.shiftKey
      ? () => orbit.pan(x * KEY_PAN, y * KEY_PAN)
      : () => orbit.turn(x * KEY_TURN_DEG, y * KEY_TURN_DEG);
  }
  switch (event.key) {
    case "+":
    case "=":
      return () => orbit.zoom(1 / KEY_ZOOM);
    case "-":
    case "_":
      return () => orbit.zoom(KEY_ZOOM);
    case "Home":
      return () => presses.home();
    case "Enter":
      return () => presses.enter();
    case "Escape":
      return () => presses.escape();
    default:
      return undefined;
  }
}
