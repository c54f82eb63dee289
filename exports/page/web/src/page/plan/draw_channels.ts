import { draw } from "../elements";
import { tellFixed } from "../figures";
import type { ChannelDoc, Layer, PlanDoc, Xy } from "../messages";
import { bandOf, QUANTITIES, type Bands } from "./bands";
import type { Obstacle } from "./labels";
import { isUnrouted } from "./ground";
import { flip, isEdge, sameXy, type Rect } from "./panel_frame";
import { writeText } from "./lettering";
import { arrowPath, between, longestOf, seenOf, stretchesOf, type Cover, type Stretch } from "./stretches";

/** A number is written into a channel that is at least so wide and along which it has so much room, in pixels. */
const LEAST_WIDE_PX = 13;
const TYPE_PX = 11;
const LETTER = 0.58;
const ROOM_PX = 10;
/** How bad it is that a name covers a channel. */
const CHANNEL_WEIGHT = 2.1;
/** How bad it is that a mark covers a number: a part of it hidden, it reads as another. */
const NUMBER_WEIGHT = 8;

export interface DrawnChannels {
  nodes: Node[];
  /** The channels, for what should not cover them. */
  obstacles: Obstacle[];
  /** The numbers written into them. */
  numbers: Obstacle[];
}

/** The channels, those of the back layer first; `moved` are those that a draft changed. */
export function drawChannels(plan: PlanDoc, bands: Bands, unit: number, moved: Set<string>): DrawnChannels {
  const obstacles: Obstacle[] = [];
  const numbers: Obstacle[] = [];
  const both = isInBothFaces(plan);
  const covers = coversOf(plan);
  const nodes = plan.channels.map((channel) => {
    const group = draw("g", { class: `channel${moved.has(channel.id) ? " moved" : ""}${channel.kept ? " kept" : ""}` });
    const flow: Record<Layer, Node[]> = { back: [], front: [] };
    const fills: Record<Layer, Node[]> = { back: [], front: [] };
    let longest: Stretch | null = null;
    const hiding = [...covers, ...junctionsOf(plan, channel)];
    for (const leg of channel.legs) {
      const band = bandOf(bands, leg);
      const stretches = stretchesOf(plan, channel, leg);
      fills[leg.layer].push(
        draw("path", {
          class: `leg ${band === null ? "still" : `band-${band}`}`,
          d: leg.path,
          "stroke-width": channel.width,
        }),
      );
      stretches.forEach((stretch, k) => {
        obstacles.push({ rect: around(stretch.from, stretch.to, channel.width / 2), weight: CHANNEL_WEIGHT });
        const next = stretches[k + 1];
        // A bend, within its corner.
        if (next) obstacles.push({ rect: around(stretch.to, next.from, channel.width / 2), weight: CHANNEL_WEIGHT });
      });
      const seen = seenOf(stretches, hiding);
      const best = longestOf(seen);
      if (best && (!longest || best.length > longest.length)) longest = best;
      if (band === null) continue;
      const value = tellFixed(QUANTITIES[bands.quantity].of(leg), 2);
      const scale = Math.min(unit, (channel.width * 0.8) / TYPE_PX);
      const free = value.length * LETTER * TYPE_PX * scale + ROOM_PX * unit;
      const written = channel.width / unit >= LEAST_WIDE_PX && best && best.length >= free ? best : null;
      const arrows = arrowPath(seen, channel.width, written, free);
      flow[leg.layer].push(draw("path", { class: `flow on-${band}`, d: arrows }));
      if (!written) continue;
      flow[leg.layer].push(writeAlong(written, value, scale, `value on-${band}`));
      numbers.push({ rect: rectAlong(written, value, scale), weight: NUMBER_WEIGHT });
    }
    // Of each layer all edges below all legs: where legs meet no edge lies across the channel.
    for (const layer of ["back", "front"] as const) {
      const outline = channel.outlines[layer];
      const name = `channel-edge${both && layer === "back" ? " behind" : ""}`;
      const edge = outline ? [draw("path", { class: name, d: outline })] : [];
      const drawn = [...edge, ...fills[layer]];
      if (drawn.length) group.append(draw("g", { class: `in-${layer}` }, ...drawn));
    }
    for (const hole of channel.holes) {
      const [cx, cy] = flip(plan, hole);
      group.append(draw("circle", { class: "through", cx, cy, r: channel.width / 2 }));
    }
    for (const layer of ["back", "front"] as const) {
      if (flow[layer].length) group.append(draw("g", { class: `in-${layer}` }, ...flow[layer]));
    }
    if (channel.kept && longest) group.append(...drawClasps(channel, longest));
    return group;
  });
  return { nodes, obstacles, numbers };
}

/** Whether a plan has channels in the back face and in the front face. */
export function isInBothFaces(plan: PlanDoc): boolean {
  return new Set(plan.channels.flatMap((channel) => Object.keys(channel.outlines))).size > 1;
}

/** The way of channels as it was, thin, where a draft changed it. */
export function drawFormerWays(settled: PlanDoc, moved: Set<string>): Node[] {
  const ways = settled.channels.filter((channel) => moved.has(channel.id)).flatMap((channel) => channel.legs);
  return ways.map((leg) => draw("path", { class: "former-way", d: leg.path }));
}

/** The channels whose way is another than in the plan before. */
export function movedChannels(before: PlanDoc, now: PlanDoc): Set<string> {
  if (isUnrouted(before)) return new Set();
  const was = new Map(before.channels.map((channel) => [channel.id, waysOf(channel)]));
  return new Set(
    now.channels.filter((channel) => was.get(channel.id) !== waysOf(channel)).map((channel) => channel.id),
  );
}

/** Two clasps across a channel whose route is kept. */
function drawClasps(channel: ChannelDoc, stretch: Stretch): Node[] {
  const angle = (Math.atan2(stretch.to[1] - stretch.from[1], stretch.to[0] - stretch.from[0]) * 180) / Math.PI;
  const half = channel.width * 0.74;
  const lip = channel.width * 0.24;
  const apart = Math.min(0.36 * stretch.length, 3 * channel.width) / Math.max(stretch.length, 1e-6);
  return [-1, 1].map((side) => {
    const [x, y] = between(stretch.from, stretch.to, 0.5 + side * apart);
    const d = `M${lip * side} ${-half}H0V${half}H${lip * side}`;
    return draw(
      "g",
      { class: "clasp", transform: `translate(${x} ${y}) rotate(${angle})` },
      draw("path", { class: "clasp-halo", d }),
      draw("path", { d }),
    );
  });
}

function writeAlong(stretch: Stretch, words: string, scale: number, name: string): SVGTextElement {
  let angle = (Math.atan2(stretch.to[1] - stretch.from[1], stretch.to[0] - stretch.from[0]) * 180) / Math.PI;
  // Read from below or from the right, as on drawings.
  if (angle > 89) angle -= 180;
  if (angle <= -91) angle += 180;
  const [x, y] = between(stretch.from, stretch.to, 0.5);
  const down = 0.35 * TYPE_PX * scale;
  const turn = (angle * Math.PI) / 180;
  return writeText(
    name,
    [words],
    { x: x - down * Math.sin(turn), y: y + down * Math.cos(turn), anchor: "middle", angle },
    scale,
  );
}

/** What a number written along a stretch covers. */
function rectAlong({ from, to, length }: Stretch, words: string, scale: number): Rect {
  const half = (words.length * LETTER * TYPE_PX * scale) / (2 * length);
  return around(between(from, to, 0.5 - half), between(from, to, 0.5 + half), (TYPE_PX * scale) / 2);
}

function around(from: Xy, to: Xy, half: number): Rect {
  const [x, y]: Xy = [Math.min(from[0], to[0]) - half, Math.min(from[1], to[1]) - half];
  return { x, y, width: Math.abs(from[0] - to[0]) + 2 * half, height: Math.abs(from[1] - to[1]) + 2 * half };
}

/** Ports and bores of the pump, which are drawn over the channels. */
function coversOf(plan: PlanDoc): Cover[] {
  const { pump } = plan;
  return [
    ...plan.ports
      .filter((port) => !isEdge(port.on))
      .map((port) => ({ at: flip(plan, port.at), radius: port.collar_radius })),
    { at: flip(plan, pump.inlet), radius: pump.inlet_radius },
    { at: flip(plan, pump.outlet), radius: pump.outlet_radius },
  ];
}

/** Where legs of a channel meet. */
function junctionsOf(plan: PlanDoc, channel: ChannelDoc): Cover[] {
  const ends = channel.legs.flatMap((leg) => [leg.points[0]!, leg.points.at(-1)!]);
  const met = ends.filter((end, k) => ends.some((other, j) => j !== k && sameXy(end, other)));
  return met.map((end) => ({ at: flip(plan, end), radius: channel.width / 2 }));
}

function waysOf(channel: ChannelDoc): string {
  return `${channel.width} ${channel.legs.map((leg) => leg.layer + leg.path).join(" ")}`;
}
