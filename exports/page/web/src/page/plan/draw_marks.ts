import { draw } from "../elements";
import type { FindingDoc, PlanDoc, Xy } from "../messages";
import { GROUNDS, SIGN_HALF } from "../signs";
import { isUnrouted } from "./ground";
import type { Hold, Standing } from "./holding";
import { flip, rectOf, type Rect } from "./panel_frame";
import type { Mark } from "./place_marks";
import { findThing, placeOf, pumpRadius, rectOfThing, type Thing } from "./things";

/** The lead to a finding's place begins so far across and down from the middle of its sign, in pixels. */
const LEAD_PX = 8;

/** How much larger than in a list a sign is that holds a number: a triangle has less room. */
const SIGN_SCALE: Record<FindingDoc["severity"], number> = { fault: 1.25, caution: 1.45, note: 1.25 };

const STANDING: Record<Standing, { words: string; mark: string }> = {
  may: { words: "may stand here", mark: "M-4.4 .4l3 3 5.8-6.6" },
  "may not": { words: "may not stand here", mark: "M-3.6-3.6l7.2 7.2M3.6-3.6l-7.2 7.2" },
  refused: { words: "cannot be put here", mark: "M-3.6-3.6l7.2 7.2M3.6-3.6l-7.2 7.2" },
  "no layout": { words: "no layout with it here", mark: "M0-3.2v4.4M0 4.6v.6" },
  "not known": { words: "being tried", mark: "M-4 0h.01M0 0h.01M4 0h.01" },
};

export function tellStanding(standing: Standing): string {
  return STANDING[standing].words;
}

/** Findings that have a place, as numbered marks. */
export function drawFindings(marks: Mark[], marked: number | null): Node[] {
  return marks.map(({ finding, at: [x, y], off: [dx, dy] }) => {
    const lit = finding.number === marked;
    const mark = draw(
      "g",
      { class: "of-one-size" },
      draw("path", { class: "finding-lead", d: `M0 0L${dx - LEAD_PX * Math.sign(dx)} ${dy - LEAD_PX * Math.sign(dy)}` }),
      draw("circle", { class: "finding-spot", r: 2.4 }),
      draw(
        "g",
        { class: "finding-sign", transform: `translate(${dx} ${dy})`, "data-finding": finding.number },
        draw("circle", { class: "finding-hit", r: 12 }),
        ...(lit ? [draw("circle", { class: "finding-lit", r: 15 })] : []),
        draw("path", {
          class: "finding-shape",
          d: GROUNDS[finding.severity],
          transform: `scale(${SIGN_SCALE[finding.severity]}) translate(${-SIGN_HALF} ${-SIGN_HALF})`,
        }),
        draw("text", { y: finding.severity === "caution" ? 7 : 4 }, String(finding.number + 1)),
        draw("title", {}, `${finding.severity} ${finding.number + 1}: ${finding.text}`),
      ),
    );
    const state = `${finding.accepted ? " accepted" : ""}${lit ? " lit" : ""}`;
    return draw("g", { class: `finding ${finding.severity}${state}`, transform: `translate(${x} ${y})` }, mark);
  });
}

/** What was found where there is no plan. */
export function drawProblemSpot(plan: PlanDoc, at: Xy): Node {
  const [x, y] = flip(plan, at);
  return draw(
    "g",
    { class: "problem-spot", transform: `translate(${x} ${y})` },
    draw(
      "g",
      { class: "of-one-size" },
      draw("circle", { r: 16 }),
      draw("path", { d: "M-23 0H-9M9 0H23M0-23V-9M0 9V23" }),
    ),
  );
}

/** Where a thing in hand stood, and the mark that tells whether it may stand where it is held. */
export function drawHeld(plan: PlanDoc, settled: PlanDoc, hold: Hold, standing: Standing, unit: number): Node[] {
  const thing = findThing(plan, hold.id);
  const before = findThing(settled, hold.id);
  if (!thing) return [];
  const out: Node[] = [];
  const name = standing.replace(" ", "-");
  if (before) out.push(outline(settled, before, "former", 0));
  const from = before && placeOf(before);
  if (from) {
    const [x, y] = flip(settled, from);
    const [tx, ty] = flip(plan, hold.now.at);
    out.push(draw("path", { class: "moved-by", d: `M${x} ${y}L${tx} ${ty}` }));
  }
  out.push(outline(plan, thing, `held ${name}`, 5 * unit), drawCross(flip(plan, hold.now.at), unit));
  const { words, mark } = STANDING[standing];
  const [x, y] = standingPlace(plan, thing, unit);
  out.push(
    draw(
      "g",
      { class: `standing ${name}`, transform: `translate(${x} ${y})` },
      draw(
        "g",
        { class: "of-one-size" },
        draw("path", { class: "standing-shape", d: SIGNS[standing] }),
        draw("path", { class: "standing-sign", d: mark }),
        draw("text", { x: 13, y: 4 }, words),
      ),
    ),
  );
  return out;
}

/** Where the sign of how a held thing stands is drawn: above it, or below near the upper edge. */
function standingPlace(plan: PlanDoc, thing: Thing, unit: number): Xy {
  const { x, y, width, height } = rectOfThing(plan, thing);
  return [x + width / 2, y > 30 * unit ? y - 18 * unit : y + height + 18 * unit];
}

/** What that sign and its words cover. */
export function standingRect(plan: PlanDoc, hold: Hold, unit: number): Rect | null {
  const thing = findThing(plan, hold.id);
  if (!thing) return null;
  const [x, y] = standingPlace(plan, thing, unit);
  return { x: x - 10 * unit, y: y - 10 * unit, width: 165 * unit, height: 20 * unit };
}

const SIGNS: Record<Standing, string> = {
  may: "M-6-8.5h12a2.5 2.5 0 0 1 2.5 2.5v12a2.5 2.5 0 0 1-2.5 2.5h-12a2.5 2.5 0 0 1-2.5-2.5v-12a2.5 2.5 0 0 1 2.5-2.5z",
  "may not": "M-3.6-8.8h7.2L8.8-3.6v7.2L3.6 8.8h-7.2L-8.8 3.6v-7.2z",
  refused: "M-3.6-8.8h7.2L8.8-3.6v7.2L3.6 8.8h-7.2L-8.8 3.6v-7.2z",
  "no layout": "M0-10L10.4 8.4h-20.8z",
  "not known": "M-8.5 0a8.5 8.5 0 1 0 17 0a8.5 8.5 0 1 0-17 0z",
};

/** Ports that a draft moved beside the one in hand: from where to where. */
export function drawAnswers(plan: PlanDoc, settled: PlanDoc, held: string | null): Node[] {
  // Without routes they stood nowhere yet.
  if (isUnrouted(settled)) return [];
  const was = new Map(settled.ports.map((port) => [port.id, port]));
  return plan.ports.flatMap((port) => {
    const before = was.get(port.id);
    if (!before || port.id === held || String(before.at) === String(port.at)) return [];
    const [x, y] = flip(settled, before.at);
    const [tx, ty] = flip(plan, port.at);
    return [
      draw("circle", { class: "former", cx: x, cy: y, r: before.collar_radius }),
      draw("path", { class: "moved-by", d: `M${x} ${y}L${tx} ${ty}` }),
      draw("circle", { class: "answered", cx: tx, cy: ty, r: port.collar_radius + 1.5 }),
    ];
  });
}

/** The outline of a thing, so many mm further out. */
export function outline(plan: PlanDoc, thing: Thing, name: string, out: number): SVGElement {
  if (thing.kind === "channel") {
    const path = thing.of.legs.map((leg) => leg.path).join("");
    return draw("path", { class: `outline ${name}`, d: path, "stroke-width": thing.of.width + 2 * out });
  }
  if (thing.kind === "port") {
    const [cx, cy] = flip(plan, thing.of.at);
    return draw("circle", { class: `outline ${name}`, cx, cy, r: thing.of.collar_radius + out });
  }
  if (thing.kind === "pump") {
    const [cx, cy] = flip(plan, thing.of.inlet);
    return draw("circle", { class: `outline ${name}`, cx, cy, r: pumpRadius(thing.of) + out });
  }
  const rect = thing.kind === "tank" && !thing.of.box ? rectOfThing(plan, thing) : rectOf(plan, thing.of.box!);
  const { x, y, width, height } = rect;
  const rx = thing.kind === "tank" ? thing.of.corner_radius : 0;
  return draw("rect", {
    class: `outline ${name}`,
    x: x - out,
    y: y - out,
    width: width + 2 * out,
    height: height + 2 * out,
    ...(rx ? { rx: rx + out } : {}),
  });
}

function drawCross([x, y]: Xy, unit: number): Node {
  const arm = 7 * unit;
  return draw("path", { class: "held-at", d: `M${x - arm} ${y}H${x + arm}M${x} ${y - arm}V${y + arm}` });
}
