import { draw, figure } from "../elements";
import type { FindingDoc, PlanDoc, ProblemDoc, ThingId, Xy } from "../messages";
import type { Bands } from "./bands";
import type { Margins } from "./camera";
import { drawChannels, drawFormerWays, movedChannels } from "./draw_channels";
import {
  drawAnswers,
  drawFindings,
  drawHeld,
  drawProblemSpot,
  outline,
  standingRect,
} from "./draw_marks";
import { drawBlocked, drawMeasures, drawPatterns, drawPlaces, drawPlate } from "./draw_plate";
import {
  drawClear,
  drawEdgeBores,
  drawPin,
  drawPort,
  drawPump,
  drawScrew,
  drawSeat,
  drawSpanner,
  drawTank,
  obstaclesOf,
  pinPlace,
  wantNames,
} from "./draw_things";
import type { Hold, Places, Standing } from "./holding";
import { placeLabels, type Obstacle } from "./labels";
import { flip, isEdge, rectOf, type Rect } from "./panel_frame";
import { writeText } from "./lettering";
import { placeMarks, type Mark } from "./place_marks";
import { findThing, isMovable, thingsOf } from "./things";

/** All that the picture shows. */
export interface Shown {
  plan: PlanDoc;
  /** The plan of the file, beside which a draft is shown. */
  settled: PlanDoc;
  bands: Bands;
  /** Of a pixel, mm. */
  unit: number;
  /** Width and height of the stage, pixels. */
  stage: Xy;
  /** Of the page's type, pixels. */
  type: number;
  selected: ThingId | null;
  hovered: ThingId | null;
  hold: Hold | null;
  standing: Standing;
  places: Places | null;
  findings: FindingDoc[];
  marked: number | null;
  problem: ProblemDoc | null;
  /** Whether cords and screws are drawn. */
  fastenings: boolean;
}

const LAYERS = [
  "plate",
  "places",
  "seat",
  "cords",
  "glow",
  "channels",
  "tank",
  "pump",
  "ports",
  "clears",
  "answers",
  "names",
  "over",
  "findings",
] as const;
type Layer = (typeof LAYERS)[number];

/** Pixels beyond the plate for its lines of measure, and for a line of text. */
const MEASURE_PX = 26;
const LINE_PX = 15;
const LETTER_PX = 6.8;
const FITTING_PX = 34;
/** A stage narrower or lower than this is small. */
const SMALL_PX: Xy = [600, 380];
const SMALL_MARGIN_PX = 16;
/** Length and half breadth of a handle, pixels. */
const HANDLE_PX = 9;
const HANDLE_HIT_PX = 24;
/** How bad it is that a name covers the mark of a finding. */
const MARK_WEIGHT = 2;

/** The layers of the drawing, lowest first, each drawn anew where something in it changed. */
export class Picture {
  readonly element = draw("g", { class: "picture", "aria-hidden": "true" });
  /** Above what is pointed at. */
  readonly handles = draw("g", { class: "handles", "aria-hidden": "true" });
  private readonly layers = new Map<Layer, SVGGElement>();

  constructor() {
    for (const name of LAYERS) {
      const layer = draw("g", { class: `layer-${name}` });
      this.layers.set(name, layer);
      this.element.append(layer);
    }
  }

  /** Draws all of it; `bounds`: what is seen, where names may be kept in it. */
  draw(shown: Shown, bounds: Rect | null): void {
    const { plan, settled, unit } = shown;
    const changed = shown.hold || plan !== settled ? movedChannels(settled, plan) : new Set<string>();
    const { below, beside } = marginsOf(plan, shown.stage);
    const measures = below ? drawMeasures(plan, unit, below, beside) : [];
    this.fill("plate", [drawPatterns(plan, unit), ...drawPlate(plan, unit), ...measures]);
    this.fill("tank", drawTank(plan));
    this.fill("seat", drawSeat(plan));
    this.fill("pump", drawPump(plan));
    this.fill("cords", shown.fastenings ? drawFastenings(plan) : []);
    const channels = drawChannels(plan, shown.bands, unit, changed);
    this.fill("channels", [...drawFormerWays(settled, changed), ...channels.nodes]);
    this.fill("ports", [...drawEdgeBores(plan), ...plan.ports.map((port) => drawPort(plan, port))]);
    this.fill(
      "clears",
      plan.clears.flatMap((clear) => drawClear(plan, clear)),
    );
    this.fill("answers", plan !== settled ? drawAnswers(plan, settled, shown.hold?.id ?? null) : []);
    const must = new Set([shown.selected, shown.hovered, shown.hold?.id].filter((id) => id != null) as string[]);
    const type = 12 * unit * (shown.type / 16);
    const sign = shown.hold && standingRect(plan, shown.hold, unit);
    const standing = obstaclesOf(plan, unit);
    const marks = placeMarks(plan, shown.findings, [...standing, ...channels.numbers], unit);
    const obstacles = [
      ...standing,
      ...channels.obstacles,
      ...marks.map(({ rect }) => ({ rect, weight: MARK_WEIGHT })),
      ...pinObstacles(plan, unit),
      ...(sign ? [{ rect: sign, weight: 4 }] : []),
    ];
    const names = placeLabels(wantNames(plan, must, unit), obstacles, type, 5 * unit, bounds);
    this.fill("names", [
      ...names.flatMap(({ lead }) => (lead ? [drawLead(lead)] : [])),
      ...drawPins(plan),
      ...names.map((label) => writeText(`name${must.has(label.id) ? " lit" : ""}`, label.lines, label, unit)),
    ]);
    this.drawOver(shown, marks);
  }

  /** Draws what follows the pointer: what is pointed at, selected and in hand, and marks. */
  private drawOver(shown: Shown, marks: Mark[]): void {
    const { plan, settled, unit, hold, places, problem } = shown;
    this.fill("places", [
      ...(places && hold ? drawPlaces(plan, places) : []),
      ...(problem?.cells.length ? drawBlocked(plan, problem.cells) : []),
    ]);
    const over: Node[] = [];
    const glow: Node[] = [];
    for (const id of new Set([shown.hovered, shown.selected])) {
      const thing = findThing(plan, id);
      if (!thing) continue;
      if (thing.kind === "port") over.push(drawSpanner(plan, thing.of));
      const name = id === shown.selected ? "selected" : "hovered";
      // Round a channel from below: its colours and numbers stay as they are.
      if (thing.kind === "channel") glow.push(outline(plan, thing, name, (name === "selected" ? 6 : 4) * unit));
      else if (hold?.id !== id) over.push(outline(plan, thing, name, 2 * unit));
    }
    this.fill("glow", glow);
    if (hold) over.push(...drawHeld(plan, settled, hold, shown.standing, unit));
    if (problem?.at) over.push(drawProblemSpot(plan, problem.at));
    this.fill("over", over);
    this.fill("findings", drawFindings(marks, shown.marked));
    this.drawHandles(shown);
  }

  /** The eight handles of a selected keep-clear box. */
  private drawHandles({ plan, selected, unit }: Shown): void {
    const thing = findThing(plan, selected);
    if (thing?.kind !== "clear" || !isMovable(thing)) {
      if (this.handles.childElementCount) this.handles.replaceChildren();
      return;
    }
    const { x, y, width, height } = rectOf(plan, thing.of.box);
    const side = HANDLE_PX * unit;
    const hit = HANDLE_HIT_PX * unit;
    const out = 4 * unit;
    const sides = [-1, 0, 1] as const;
    this.handles.replaceChildren(
      ...sides.flatMap((across) =>
        sides
          .filter((up) => across || up)
          .map((up) => {
            const cx = x + width / 2 + across * (width / 2 + out);
            const cy = y + height / 2 - up * (height / 2 + out);
            return draw(
              "g",
              {
                class: `handle pulls-${Math.abs(across)}${Math.abs(up)}${across === up ? " rising" : ""}`,
                "data-handle": `${across} ${up}`,
                "data-hit": thing.id,
              },
              // Its own half of the ground beside the box: the box itself stays to be taken.
              draw("rect", {
                class: "handle-hit",
                x: cx - hit / 2 + (across * hit) / 4,
                y: cy - hit / 2 - (up * hit) / 4,
                width: hit,
                height: hit,
              }),
              draw("rect", { class: "handle-mark", x: cx - side / 2, y: cy - side / 2, width: side, height: side }),
            );
          }),
      ),
    );
  }

  private fill(name: Layer, nodes: Node[]): void {
    const layer = this.layers.get(name)!;
    if (nodes.length || layer.childElementCount) layer.replaceChildren(...nodes);
  }
}

function pinObstacles(plan: PlanDoc, unit: number): Obstacle[] {
  return thingsOf(plan).flatMap((thing) => {
    const place = pinPlace(plan, thing);
    if (!place) return [];
    return [{ rect: { x: place[0], y: place[1] - 13 * unit, width: 12 * unit, height: 13 * unit }, weight: 1.5 }];
  });
}

/** The line from a name that stands far off to its thing. */
function drawLead([[x, y], [tx, ty]]: [Xy, Xy]): Node {
  const d = `M${figure(x)} ${figure(y)}L${figure(tx)} ${figure(ty)}`;
  return draw("g", { class: "name-lead" }, draw("path", { class: "name-halo", d }), draw("path", { d }));
}

function drawPins(plan: PlanDoc): Node[] {
  return thingsOf(plan).flatMap((thing) => {
    const place = pinPlace(plan, thing);
    return place ? [drawPin(place)] : [];
  });
}

function drawFastenings(plan: PlanDoc): Node[] {
  return [
    ...plan.cords.map((cord) =>
      draw("path", { class: `cord in-${cord.layer}`, d: cord.path, "stroke-width": cord.width }),
    ),
    draw("g", { class: "in-back" }, ...plan.screws.map((at) => drawScrew(flip(plan, at), 2))),
    draw("g", { class: "in-front" }, ...plan.front_screws.map((at) => drawScrew(flip(plan, at), 2))),
  ];
}

/**
 * How far out the lines of measure stand, and what else needs room beside the plate, in pixels. A small stage is the
 * plate's alone: there are no lines of measure, which 0 tells, and names stand where they can.
 */
export function marginsOf(plan: PlanDoc, [stageWide, stageHigh]: Xy): Margins & { below: number; beside: number } {
  if (stageWide < SMALL_PX[0] || stageHigh < SMALL_PX[1]) {
    return {
      left: SMALL_MARGIN_PX,
      right: SMALL_MARGIN_PX,
      top: 2 * LINE_PX + SMALL_MARGIN_PX,
      bottom: LINE_PX + SMALL_MARGIN_PX,
      below: 0,
      beside: 0,
    };
  }
  const wide = (on: string): number => {
    const names = plan.ports.filter((port) => port.on === on).map((port) => longestLine(port.name, port.part));
    return names.length ? Math.max(...names) * LETTER_PX + FITTING_PX : 0;
  };
  const high = (on: string): number =>
    plan.ports.some((port) => isEdge(port.on) && port.on === on) ? 2 * LINE_PX + FITTING_PX : 0;
  const below = high("bottom") + MEASURE_PX;
  const beside = wide("right") + MEASURE_PX;
  return {
    left: Math.max(wide("left"), 16),
    right: beside + 10,
    top: Math.max(high("top"), 16),
    bottom: below + 10,
    below,
    beside,
  };
}

function longestLine(name: string, part: string): number {
  return name.startsWith(`${part} `) ? Math.max(part.length, name.length - part.length - 1) : name.length;
}
