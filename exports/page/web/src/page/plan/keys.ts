import type { ThingId, Xy } from "../messages";
import { ZOOM_STEP } from "./tools";

export interface KeyHooks {
  zoom(factor: number): void;
  whole(): void;
  pan(steps: Xy): void;
  select(thing: ThingId | null): void;
  /** Moves the selected thing by nodes, y up. */
  step(thing: ThingId, steps: Xy): void;
  turn(thing: ThingId, quarters: number): void;
  remove(thing: ThingId): void;
  open(thing: ThingId): void;
  /** The next of its group. */
  walk(thing: ThingId, steps: number): void;
  /** Whether there was something to break off. */
  cancel(): boolean;
}

/** How the plan is worked by keys, for those who do not see it. */
export const KEYS_TOLD =
  "Tab goes to tank, pump, ports, channels and keep-clear boxes; arrow keys go from one to the " +
  "next among them. The space bar takes the one with the focus: then arrow keys move it by one node of the grid, " +
  "with Shift by five, and Escape at once lets it go where it was; half a second after the last step it is written, " +
  "and Control and Z takes it back. Enter opens its numbers. R or the right bracket turns the " +
  "pump, the left bracket turns it back. Delete removes a keep-clear box. Plus, minus and 0 zoom; on the plan itself " +
  "arrow keys move what is seen. Click the plan, then turn the wheel to come nearer; until then the wheel moves the " +
  "page, unless Control is held. On a touch screen two fingers zoom; while all of the plate is shown one finger moves " +
  "the page. Tap a thing, then drag it.";

const ARROWS: Record<string, Xy> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
const FAR = 5;
const FARTHEST = 1e6;

/** What a key does on the stage; returns whether it does anything. */
export function pressKey(
  event: KeyboardEvent,
  focused: ThingId | null,
  selected: ThingId | null,
  hooks: KeyHooks,
): boolean {
  if (event.ctrlKey || event.metaKey || event.altKey) return false;
  const { key } = event;
  if (key === "+" || key === "=") hooks.zoom(ZOOM_STEP);
  else if (key === "-") hooks.zoom(1 / ZOOM_STEP);
  else if (key === "0") hooks.whole();
  else if (key === "Escape") {
    if (hooks.cancel()) return true;
    if (selected === null) return false;
    hooks.select(null);
  } else if (focused === null) {
    const arrow = ARROWS[key];
    if (!arrow) return false;
    hooks.pan(event.shiftKey ? [FAR * arrow[0], FAR * arrow[1]] : arrow);
  } else return pressOnThing(event, focused, focused === selected, hooks);
  return true;
}

function pressOnThing(event: KeyboardEvent, thing: ThingId, isSelected: boolean, hooks: KeyHooks): boolean {
  const arrow = ARROWS[event.key];
  if (arrow && isSelected) hooks.step(thing, event.shiftKey ? [FAR * arrow[0], FAR * arrow[1]] : arrow);
  else if (arrow) hooks.walk(thing, arrow[0] - arrow[1]);
  else {
    switch (event.key) {
      case "Home":
        hooks.walk(thing, -FARTHEST);
        break;
      case "End":
        hooks.walk(thing, FARTHEST);
        break;
      case "PageUp":
        hooks.walk(thing, -1);
        break;
      case "PageDown":
        hooks.walk(thing, 1);
        break;
      case " ":
        hooks.select(isSelected ? null : thing);
        break;
      case "Enter":
        hooks.open(thing);
        break;
      case "r":
      case "R":
      case "]":
        hooks.turn(thing, 1);
        break;
      case "[":
        hooks.turn(thing, -1);
        break;
      case "Delete":
      case "Backspace":
        hooks.remove(thing);
        break;
      default:
        return false;
    }
  }
  return true;
}
