import { draw } from "../elements";
import type { PlanDoc, Xy } from "../messages";
import type { Places } from "./holding";
import { flip } from "./panel_frame";
import { writeText } from "./lettering";

/** Nearer together, in pixels, grid nodes would be a grey veil. */
const LEAST_NODE_GAP_PX = 9;
const HATCH_MM = 3.2;
const LEVEL_MM = 4;
const MEASURE_ARROW_PX = 9;

/** Hatches and dots, in mm so that they keep their measure on the plate. */
export function drawPatterns(plan: PlanDoc, unit: number): SVGDefsElement {
  const { pitch, height } = plan;
  const lines = (id: string, step: number, turn: number, name: string): SVGPatternElement =>
    draw(
      "pattern",
      { id, patternUnits: "userSpaceOnUse", width: step, height: step, patternTransform: `rotate(${turn})` },
      draw("path", { class: name, d: `M0 ${step / 2}H${step}` }),
    );
  const nodes = draw(
    "pattern",
    {
      id: "plan-nodes",
      patternUnits: "userSpaceOnUse",
      width: pitch,
      height: pitch,
      x: -pitch / 2,
      y: (height % pitch) - pitch / 2,
    },
    draw("circle", { class: "node", cx: pitch / 2, cy: pitch / 2, r: Math.min(1.1 * unit, pitch / 8) }),
  );
  const dots = draw(
    "pattern",
    {
      id: "plan-places",
      patternUnits: "userSpaceOnUse",
      width: pitch,
      height: pitch,
      x: -pitch / 2,
      y: (height % pitch) - pitch / 2,
    },
    draw("rect", { class: "place-ground", width: pitch, height: pitch }),
    draw("circle", { class: "place-dot", cx: pitch / 2, cy: pitch / 2, r: pitch * 0.16 }),
  );
  const level = draw(
    "pattern",
    { id: "plan-coolant", patternUnits: "userSpaceOnUse", width: 2 * LEVEL_MM, height: LEVEL_MM },
    draw("path", {
      class: "level",
      d: `M0.6 ${LEVEL_MM / 4}H${LEVEL_MM}M${LEVEL_MM + 0.6} ${0.75 * LEVEL_MM}H${2 * LEVEL_MM}`,
    }),
  );
  return draw(
    "defs",
    {},
    lines("plan-hatch", HATCH_MM, 45, "hatch"),
    lines("plan-blocked", HATCH_MM, -45, "block"),
    nodes,
    dots,
    level,
    draw("clipPath", { id: "plan-plate" }, draw("rect", { width: plan.width, height, rx: plan.corner_radius })),
  );
}

/** The plate with the grid's nodes, which are drawn only where they lie far enough apart. */
export function drawPlate(plan: PlanDoc, unit: number): Node[] {
  const { width, height, corner_radius: rx } = plan;
  const out: Node[] = [draw("rect", { class: "plate", width, height, rx })];
  if (plan.pitch / unit >= LEAST_NODE_GAP_PX) {
    out.push(
      draw("rect", {
        class: "nodes",
        // Not on the edges: their line would look broken.
        x: plan.pitch / 2,
        y: plan.pitch / 2,
        width: width - plan.pitch,
        height: height - plan.pitch,
        fill: "url(#plan-nodes)",
      }),
    );
  }
  return out;
}

/** Lines of measure of width and height: below and on the right, so many pixels out. */
export function drawMeasures(plan: PlanDoc, unit: number, below: number, beside: number): Node[] {
  const { width, height } = plan;
  const [head, over, text] = [MEASURE_ARROW_PX * unit, 5 * unit, 4 * unit];
  const tip = ([x, y]: Xy, [ux, uy]: Xy): string =>
    `M${x} ${y}L${x - head * ux + head * 0.28 * uy} ${y - head * uy + head * 0.28 * ux}` +
    `L${x - head * ux - head * 0.28 * uy} ${y - head * uy - head * 0.28 * ux}Z`;
  const [low, right] = [height + below * unit, width + beside * unit];
  return [
    draw("path", {
      class: "measure",
      d:
        `M0 ${height + over}V${low + over}M${width} ${height + over}V${low + over}M0 ${low}H${width}` +
        `M${width + over} 0H${right + over}M${width + over} ${height}H${right + over}M${right} 0V${height}`,
    }),
    draw("path", {
      class: "measure-tip",
      d: tip([0, low], [-1, 0]) + tip([width, low], [1, 0]) + tip([right, 0], [0, -1]) + tip([right, height], [0, 1]),
    }),
    writeText("measure-text", [`${width}`], { x: width / 2, y: low - text, anchor: "middle" }, unit),
    writeText("measure-text", [`${height}`], { x: right - text, y: height / 2, anchor: "middle", angle: -90 }, unit),
  ];
}

/** The nodes where a thing may stand, as cells of the grid with dots. */
export function drawPlaces(plan: PlanDoc, places: Places): Node[] {
  const { pitch } = places;
  const cells = places.nodes.map((node) => {
    const [x, y] = flip(plan, node);
    return `M${x - pitch / 2} ${y - pitch / 2}h${pitch}v${pitch}h${-pitch}z`;
  });
  // A cell about a node on the edge lies half beside the plate.
  const clip = "url(#plan-plate)";
  return [draw("path", { class: "places", d: cells.join(""), fill: "url(#plan-places)", "clip-path": clip })];
}

/** Cells of the grid that stand in the way of a layout. */
export function drawBlocked(plan: PlanDoc, cells: Xy[]): Node[] {
  const { pitch } = plan;
  const path = cells.map((cell) => {
    const [x, y] = flip(plan, cell);
    return `M${x - pitch / 2} ${y - pitch / 2}h${pitch}v${pitch}h${-pitch}z`;
  });
  return [draw("path", { class: "blocked", d: path.join(""), fill: "url(#plan-blocked)" })];
}
