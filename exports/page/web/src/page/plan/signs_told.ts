import { draw } from "../elements";
import type { ChannelDoc, FindingDoc, LegDoc, PlanDoc, PortDoc, ProblemDoc, Xy } from "../messages";
import { QUANTITIES, type Bands } from "./bands";
import { drawChannels, drawFormerWays } from "./draw_channels";
import { drawFindings, drawProblemSpot } from "./draw_marks";
import { placeMarks } from "./place_marks";
import { drawBlocked, drawPlaces, drawPlate } from "./draw_plate";
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
  pinPlace,
} from "./draw_things";
import { flip, isEdge, rectAround, rectOf, wayOut, type Rect } from "./panel_frame";
import { isMovable, thingsOf } from "./things";

/** What the signs are taken from: those that do not occur there are not told. */
export interface SignsOf {
  plan: PlanDoc;
  bands: Bands;
  findings: FindingDoc[];
  problem: ProblemDoc | null;
}

/** A piece of the drawing with what it means. */
export interface SignTold {
  words: string;
  /** What of the drawing is shown, mm. */
  rect: Rect;
  /** Of a pixel, mm, for what has one size on the screen; else it is drawn as large as there is room. */
  unit?: number;
  /** Whether it is one of those that come and go with what is in hand. */
  passing?: boolean;
  draw(unit: number): Node[];
}

/** Of the shown piece of a tank or a box, mm. */
const CORNER: Xy = [30, 12];
/** Shares of its width that the shown piece of a channel is long, and wide. */
const PIECE: Xy = [5.2, 1.8];
/** What the mark of a finding takes round its spot, pixels: left and below, right and above. */
const MARK_PX: Xy = [8, 32];

/** The signs that occur in a plan, each drawn by what draws the plan. */
export function listSigns({ plan, bands, findings, problem }: SignsOf): SignTold[] {
  const first = plan.ports.find((port) => port.spanner_radius > 0);
  return [
    ...portSigns(plan),
    ...pinSigns(plan),
    ...tankSigns(plan),
    ...pumpSigns(plan),
    ...channelSigns(plan, bands),
    ...fasteningSigns(plan),
    ...plan.clears.slice(0, 1).map((clear) => ({
      words: "keep-clear box: no channel runs here",
      rect: cornerOf(rectOf(plan, clear.box)),
      draw: () => drawClear(plan, clear),
    })),
    {
      words: "nodes of the grid, once the plan is near enough",
      rect: nodesOf(plan),
      draw: () => drawPlate(plan, plan.pitch / 12),
    },
    ...findingSigns(plan, findings),
    ...(problem?.at ? [spotSign(plan, problem.at)] : []),
    ...(problem?.cells.length ? [blockedSign(plan, problem.cells)] : []),
    ...(thingsOf(plan).some(isMovable) ? [placesSign(plan)] : []),
    ...(plan.channels.length ? draftSigns(plan, bands) : []),
    ...(first ? [spannerSign(plan, first)] : []),
  ];
}

function portSigns(plan: PlanDoc): SignTold[] {
  const kinds: [string, (port: PortDoc) => boolean][] = [
    ["port in a face, to a part: coolant comes out", (port) => !isEdge(port.on) && port.role === "inlet"],
    ["port in a face, from a part: coolant goes in", (port) => !isEdge(port.on) && port.role === "outlet"],
    ["fill, bleed or drain in a face, closed by a plug", (port) => !isEdge(port.on) && !isOfPart(port)],
    ["port in an edge, to a part, with its bore", (port) => isEdge(port.on) && port.role === "inlet"],
    ["port in an edge, from a part, with its bore", (port) => isEdge(port.on) && port.role === "outlet"],
    ["fill, bleed or drain in an edge, closed by a plug", (port) => isEdge(port.on) && !isOfPart(port)],
    ["round it dashed: in the back face", (port) => port.on === "back"],
  ];
  return kinds.flatMap(([words, is]) => {
    const port = plan.ports.find(is);
    if (!port) return [];
    const rect = rectAround(flip(plan, port.at), port.collar_radius + (isEdge(port.on) ? 12 : 1));
    return [{ words, rect, draw: () => [...drawEdgeBores({ ...plan, ports: [port] }), drawPort(plan, port)] }];
  });
}

function isOfPart(port: PortDoc): boolean {
  return port.role === "inlet" || port.role === "outlet";
}

function pinSigns(plan: PlanDoc): SignTold[] {
  if (!thingsOf(plan).some((thing) => pinPlace(plan, thing))) return [];
  const rect = { x: -9, y: -19, width: 24, height: 24 };
  return [{ words: "pin: the file gives it this place", rect, unit: 1, draw: () => [drawPin([0, 0])] }];
}

function tankSigns(plan: PlanDoc): SignTold[] {
  const { tank } = plan;
  const shown = { draw: () => drawTank(plan) };
  const at = (words: string, rect: Rect): SignTold => ({ words, rect, ...shown });
  if (!tank.box) return [at("to the tank, a vessel of its own", rectAround(flip(plan, tank.outlet), 6))];
  const [post] = tank.posts;
  return [
    at("tank", cornerOf(rectOf(plan, tank.box))),
    ...(post ? [at("post that holds the cover", rectAround(flip(plan, post), tank.post_diameter))] : []),
  ];
}

function pumpSigns(plan: PlanDoc): SignTold[] {
  const { pump } = plan;
  const dashed = pump.on === "back" ? ", dashed: on the back face" : "";
  const [[x, y], [ox, oy]] = [pump.inlet, pump.outlet];
  const out = Math.max(pump.reach, Math.hypot(ox - x, oy - y) + pump.outlet_radius) + 1;
  return [
    {
      words:
        `pump: its seat${dashed}, in the middle its inlet, from there an arrow to its outlet; its screws; ` +
        "dashes and dots: the room that it takes",
      rect: rectAround(flip(plan, pump.inlet), out),
      draw: () => [...drawSeat(plan), draw("g", { class: "layer-pump" }, ...drawPump(plan))],
    },
  ];
}

function channelSigns(plan: PlanDoc, bands: Bands): SignTold[] {
  const flows = plan.channels.find((channel) => channel.flow_l_min > 0);
  const kept = plan.channels.some((channel) => channel.kept);
  const holes = plan.channels.some((channel) => channel.holes.length);
  const sign = (words: string, piece: Piece): SignTold => pieceSign(plan, bands, words, piece);
  const told = `${QUANTITIES[bands.quantity].words}, ${bands.scale.unit}`;
  return [
    ...(flows ? [sign(`channel: which way coolant flows, and its ${told}`, { of: flows })] : []),
    ...(kept ? [sign("channel whose route the file keeps", { kept: true })] : []),
    ...(holes ? [sign("hole between the channels of both faces", { holed: true })] : []),
  ];
}

function fasteningSigns(plan: PlanDoc): SignTold[] {
  const [cord] = plan.cords;
  const screws = plan.screws.length + plan.front_screws.length;
  const rect = rectAround([0, 0], 4);
  const path = (width: number): Node => draw("path", { class: "cord", d: "M-20 0H20", "stroke-width": width });
  return [
    ...(cord ? [{ words: "sealing cord in its groove", rect, draw: () => [path(cord.width)] }] : []),
    ...(screws ? [{ words: "cover screw", rect, draw: () => [drawScrew([0, 0], 2)] }] : []),
  ];
}

function findingSigns(plan: PlanDoc, findings: FindingDoc[]): SignTold[] {
  const placed = findings.filter((finding) => finding.at);
  const sign = (words: string, finding: FindingDoc): SignTold => {
    const [x, y] = flip(plan, [finding.at![0], finding.at![1]]);
    const [before, beyond] = MARK_PX;
    const side = before + beyond;
    const rect = { x: x - before, y: y - beyond, width: side, height: side };
    return { words, rect, unit: 1, draw: () => drawFindings(placeMarks(plan, [finding], [], 1), null) };
  };
  const severities = (["fault", "caution", "note"] as const).flatMap((severity) => {
    const finding = placed.find((one) => one.severity === severity && !one.accepted);
    return finding ? [sign(`place of a ${severity}, with its number in the list`, finding)] : [];
  });
  const accepted = placed.find((finding) => finding.accepted);
  return [...severities, ...(accepted ? [sign("place of a finding that the file accepts", accepted)] : [])];
}

function spotSign(plan: PlanDoc, at: Xy): SignTold {
  return {
    words: "here it fails: there is no plan of the file as it stands",
    rect: rectAround(flip(plan, at), 25),
    unit: 1,
    draw: () => [drawProblemSpot(plan, at)],
  };
}

function blockedSign(plan: PlanDoc, cells: Xy[]): SignTold {
  return {
    words: "in the way of a layout",
    rect: rectAround(flip(plan, cells[0]!), plan.pitch),
    draw: () => drawBlocked(plan, cells.slice(0, 1)),
  };
}

function placesSign(plan: PlanDoc): SignTold {
  const rect = nodesOf(plan);
  const [x, y] = flip(plan, [rect.x + rect.width / 2, rect.y + rect.height / 2]);
  const nodes = [-1, 0, 1].map((step): Xy => [x + step * plan.pitch, y]);
  return {
    words: "shaded: where the thing in hand may stand",
    rect,
    passing: true,
    draw: () => drawPlaces(plan, { pitch: plan.pitch, nodes, why: "" }),
  };
}

function draftSigns(plan: PlanDoc, bands: Bands): SignTold[] {
  const dashed = pieceSign(plan, bands, "dashed edge: a new route, not proven yet", { moved: true });
  const former = pieceSign(plan, bands, "dashed line: the route before", { former: true });
  return [dashed, former].map((sign) => ({ ...sign, passing: true }));
}

function spannerSign(plan: PlanDoc, port: PortDoc): SignTold {
  const [ux, uy] = isEdge(port.on) ? wayOut(port.on) : [0, 0];
  const [x, y] = flip(plan, port.at);
  return {
    words: "round a port that is pointed at: room for the spanner",
    rect: rectAround([x + 7 * ux, y + 7 * uy], port.spanner_radius + 1),
    passing: true,
    draw: () => [drawPort(plan, port), drawSpanner(plan, port)],
  };
}

interface Piece {
  of?: ChannelDoc;
  kept?: boolean;
  holed?: boolean;
  moved?: boolean;
  former?: boolean;
}

/** A straight piece of a channel, long enough for what is told of it. */
function pieceSign(plan: PlanDoc, bands: Bands, words: string, { of, kept, holed, moved, former }: Piece): SignTold {
  const from = of ?? plan.channels[0]!;
  const { width } = from;
  const [long, wide] = [PIECE[0] * width, PIECE[1] * width];
  const [half, r] = [long / 2, width / 2];
  const end = `A${r} ${r} 0 0 1 `;
  const flowing = from.legs.find((leg) => leg.flow_l_min > 0) ?? from.legs[0]!;
  const leg: LegDoc = {
    ...flowing,
    layer: "front",
    // Without a flow there is neither arrow nor number in it.
    flow_l_min: of ? Math.abs(flowing.flow_l_min) : 0,
    points: [
      [-half, 0],
      [half, 0],
    ],
    path: `M${-half} 0H${half}`,
  };
  const channel: ChannelDoc = {
    ...from,
    kept: Boolean(kept),
    outlines: { front: `M${-half} ${-r}H${half}${end}${half} ${r}H${-half}${end}${-half} ${-r}Z` },
    legs: [leg],
    holes: holed ? [[0, 0]] : [],
  };
  // Nothing else is there, so that nothing covers it.
  const away: Xy = [1e6, 1e6];
  const alone: PlanDoc = {
    ...plan,
    height: 0,
    channels: [channel],
    ports: [],
    pump: { ...plan.pump, inlet: away, outlet: away },
  };
  const changed = new Set(moved || former ? [channel.id] : []);
  return {
    words,
    rect: { x: -half, y: -wide / 2, width: long, height: wide },
    draw: (unit) => (former ? drawFormerWays(alone, changed) : drawChannels(alone, bands, unit, changed).nodes),
  };
}

function cornerOf({ x, y }: Rect): Rect {
  return { x: x - 2, y: y - 2, width: CORNER[0], height: CORNER[1] };
}

/** A few nodes of the grid in the middle of the plate. */
function nodesOf(plan: PlanDoc): Rect {
  const { pitch } = plan;
  const [x, y] = flip(plan, [
    Math.round(plan.width / 2 / pitch) * pitch,
    Math.round(plan.height / 2 / pitch) * pitch,
  ]);
  return { x: x - 2 * pitch, y: y - 0.9 * pitch, width: 4 * pitch, height: 1.8 * pitch };
}
