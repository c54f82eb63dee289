import type { ProblemDoc } from "../messages";
import { tellStanding } from "./draw_marks";
import { isUnrouted } from "./ground";
import type { Hand } from "./hand";
import { isMoved } from "./holding";
import { findThing, nameOf, tell, type Thing } from "./things";

/**
 * The one line below the plan: of what is in hand, else the note of the last act, else of what is pointed at.
 * `byFinger`: whether the plan is worked on a touch screen.
 */
export function tellLine(
  hand: Hand,
  note: string,
  pointed: Thing | null,
  problem: ProblemDoc | null,
  byFinger: boolean,
): string {
  if (!hand.shown) return problem ? problem.headline : "The plan is being made.";
  const told = tellHeld(hand) || note;
  if (told) return told;
  if (pointed) return tell(pointed);
  if (problem) return isUnrouted(hand.shown) ? problem.headline : `The plan is that of before: ${problem.headline}`;
  if (byFinger) return "Nothing is selected. Port, tank or pump: tap it, then drag; two fingers zoom.";
  return "Nothing is selected. Drag port, tank or pump; click, then the wheel zooms.";
}

/** What is told of the thing in hand; "" where none is. */
function tellHeld(hand: Hand): string {
  const held = hand.holds && hand.hold ? findThing(hand.shown, hand.hold.id) : null;
  if (!held) return "";
  // Of a box the place is that of one corner, of which nothing in the shading tells.
  const corner = hand.places && hand.hold!.now.box ? " · shaded: where its lower left corner may stand" : "";
  if (!isMoved(hand.hold!)) return corner && `${tell(held)}${corner}`;
  const state = hand.waiting
    ? "routes are being found"
    : hand.problem
      ? hand.problem.headline
      : hand.answer
        ? "the routes are new, not proven yet"
        : "its routes are not known";
  const why = hand.standing === "may not" && hand.places?.why ? `: ${hand.places.why}` : "";
  return `${tell(held)} · ${tellStanding(hand.standing)}${why} · ${state}${corner}`;
}

/** Why a thing is not moved by itself: "port bleed 1 is not moved by itself: ...". */
export function tellUnmoved(thing: Thing): string {
  return `${nameOf(thing)} is not moved by itself: ${whyUnmoved(thing)}`;
}

function whyUnmoved(thing: Thing): string {
  if (thing.kind === "channel") return "its route follows from its ends";
  if (thing.kind === "tank") return "a vessel of its own stands beside the panel";
  if (thing.kind === "port" && thing.of.role === "fill")
    return "it opens into the tank; move the tank, or give it a place in the file's text";
  if (thing.kind === "port") return `the layout places every ${thing.of.role}, where its channel needs it`;
  return "its place follows from others";
}
