import type { LegDoc, PlanDoc, ScaleDoc } from "../messages";
import type { Quantity } from "./plan_view";

/** In words, and what a quantity is of a leg, in the unit of its scale. */
export const QUANTITIES: Record<Quantity, { words: string; of: (leg: LegDoc) => number }> = {
  velocity: { words: "velocity", of: (leg) => Math.abs(leg.velocity_m_s) },
  drop: { words: "pressure drop of each stretch", of: (leg) => Math.abs(leg.drop_kpa) },
};

/** Between which numbers a quantity changes its colour: the style sheet has one for each band, for both schemes. */
export interface Bands {
  quantity: Quantity;
  scale: ScaleDoc;
}

/**
 * The bands of a plan, which are those of its solid. Of a draft those of `before` stay while they reach far enough and
 * are not far too wide: colours that jump while a port is dragged would tell of changes that are none.
 */
export function makeBands(plan: PlanDoc, quantity: Quantity, before: Bands | null): Bands {
  const scale = plan.scales[quantity];
  if (before?.quantity === quantity) {
    const [most, reach] = [topOf(scale), topOf(before.scale)];
    if (most <= reach && most > reach * 0.45) return before;
  }
  return { quantity, scale };
}

/** The number of the colour of a value, from 0; null where nothing flows. */
export function bandOf({ quantity, scale }: Bands, leg: LegDoc): number | null {
  if (leg.flow_l_min === 0) return null;
  const count = scale.edges.length - 1;
  const value = QUANTITIES[quantity].of(leg);
  return Math.min(Math.max(Math.ceil((value / topOf(scale)) * count - 1e-9) - 1, 0), count - 1);
}

function topOf(scale: ScaleDoc): number {
  return scale.edges.at(-1)!;
}
