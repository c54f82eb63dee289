import type { LegDoc, PlanDoc } from "../messages";
import type { Quantity } from "./plan_view";

/** Bands of colour, from least to most: the style sheet has a colour for each, for both schemes. */
export const MOST_BANDS = 6;

const STEPS = [1, 2, 2.5, 5, 10];

export const QUANTITIES: Record<Quantity, { words: string; unit: string; of: (leg: LegDoc) => number }> = {
  velocity: { words: "velocity", unit: "m/s", of: (leg) => Math.abs(leg.velocity_m_s) },
  drop: { words: "pressure drop of each stretch", unit: "kPa", of: (leg) => Math.abs(leg.drop_kpa) },
};

/** Round numbers from 0 up between which a quantity changes its colour. */
export interface Bands {
  quantity: Quantity;
  edges: number[];
  digits: number;
}

/**
 * The bands for a plan. Those of `before` stay while they reach far enough and are not far too wide: colours that jump
 * while a port is dragged would tell of changes that are none.
 */
export function makeBands(plan: PlanDoc, quantity: Quantity, before: Bands | null): Bands {
  const { of } = QUANTITIES[quantity];
  const most = Math.max(...plan.channels.flatMap((channel) => channel.legs.map(of)), 1e-3);
  if (before?.quantity === quantity) {
    const reach = before.edges.at(-1)!;
    if (most <= reach && most > reach * 0.45) return before;
  }
  const rough = most / MOST_BANDS;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * STEPS.find((factor) => factor * power >= rough * 0.999999)!;
  const count = Math.max(1, Math.ceil(most / step - 1e-9));
  const digits = Math.max(0, -Math.floor(Math.log10(step) + 1e-9) + (isWhole(step / power) ? 0 : 1));
  return { quantity, edges: Array.from({ length: count + 1 }, (_, k) => k * step), digits };
}

/** The number of the colour of a value, from 0; null where nothing flows. */
export function bandOf(bands: Bands, leg: LegDoc): number | null {
  if (leg.flow_l_min === 0) return null;
  const count = bands.edges.length - 1;
  const value = QUANTITIES[bands.quantity].of(leg);
  const step = bands.edges[1]! - bands.edges[0]!;
  return colourOf(bands, Math.min(Math.max(Math.ceil(value / step - 1e-9) - 1, 0), count - 1));
}

/** The colours of fewer bands lie as far apart as they can. */
export function colourOf(bands: Bands, band: number): number {
  const count = bands.edges.length - 1;
  return count < 2 ? MOST_BANDS - 1 : Math.round((band * (MOST_BANDS - 1)) / (count - 1));
}

function isWhole(value: number): boolean {
  return Math.abs(value - Math.round(value)) < 1e-9;
}
