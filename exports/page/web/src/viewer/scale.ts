import { Color } from "three";
import type { Quantity } from "./scene";
import type { Scheme } from "./scheme";

/** By which a colour must stand out from its ground (WCAG 2.2, success criterion 1.4.11). */
const LEAST_CONTRAST = 3;

/** From the least to the most of a quantity, as colours that stand out more and more from the ground. */
export class Scale {
  readonly least: number;
  readonly most: number;
  private readonly stops: Color[];

  /** `ramp` runs from light to dark. */
  constructor(
    readonly quantity: Quantity,
    ramp: string[],
    { ground }: Scheme,
  ) {
    this.least = quantity.ticks[0]!;
    this.most = quantity.ticks.at(-1)!;
    const behind = new Color(ground);
    const seen = ramp.map((colour) => new Color(colour)).filter((colour) => contrast(colour, behind) >= LEAST_CONTRAST);
    this.stops = luminance(behind) < luminance(seen[0]!) ? seen.reverse() : seen;
  }

  /** Sets `out` to the colour of a value: in bands that of its band's middle. */
  colourAt(value: number, out: Color): Color {
    const wide = this.most - this.least;
    let share = wide > 0 ? Math.max(0, Math.min(1, (value - this.least) / wide)) : 0.5;
    if (this.quantity.banded) share = (Math.max(Math.ceil(share * this.bands - 1e-9), 1) - 0.5) / this.bands;
    const at = share * (this.stops.length - 1);
    const low = Math.min(Math.floor(at), this.stops.length - 2);
    return out.copy(this.stops[low]!).lerp(this.stops[low + 1]!, at - low);
  }

  /** The colours as a CSS gradient to the right, that of each band without a change. */
  get gradient(): string {
    const { banded } = this.quantity;
    const steps = banded ? this.bands : 12;
    const places = Array.from({ length: steps + (banded ? 0 : 1) }, (_, k) => (k + (banded ? 0.5 : 0)) / steps);
    const colours = places.map((share, k) => {
      const value = this.least + (this.most - this.least) * share;
      const colour = `#${this.colourAt(value, new Color()).getHexString()}`;
      return banded ? `${colour} ${(100 * k) / steps}% ${(100 * (k + 1)) / steps}%` : colour;
    });
    return `linear-gradient(to right, ${colours.join(", ")})`;
  }

  private get bands(): number {
    return this.quantity.ticks.length - 1;
  }
}

/** Of linear light, as colours are kept here. */
function luminance({ r, g, b }: Color): number {
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(a: Color, b: Color): number {
  const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y) as [number, number];
  return (high + 0.05) / (low + 0.05);
}
