import { SIDES, type Shown } from "./controls";
import type { Look } from "./orbit";
import type { Scene } from "./scene";

/** Angles that differ less are told as one. */
const SAME_DEG = 0.5;

const ROUND = ["front", "right", "back", "left"];

/** A part of the line of words below the picture, read out when it changes. */
export function said(): HTMLElement {
  const element = document.createElement("span");
  element.setAttribute("role", "status");
  return element;
}

/** Sets a text only where it is another: a live region says what is set. */
export function tell(element: HTMLElement, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}

/** What is shown, in one line of words, for those who cannot see it. */
export function tellShown(shown: Shown, scene: Scene): string {
  const parts = Object.entries(shown.groups)
    .filter(([, opacity]) => opacity > 0)
    .map(([name, opacity]) => (opacity < 1 ? `${name} (${Math.round(100 * opacity)} % solid)` : name));
  const said = [`Shown: ${parts.length > 0 ? parts.join(", ") : "no parts"}`];
  const quantity = scene.quantities.find(({ key }) => key === shown.flow);
  if (quantity) said.push(`flow by ${quantity.words}`);
  const { axis, at } = shown.cut;
  if (axis) said.push(`cut at ${axis} = ${at.toFixed(1)} mm`);
  return `${said.join("; ")}.`;
}

/** From where the panel is seen: a side with a name, or what lies between. */
export function tellSide({ yaw, pitch }: Pick<Look, "yaw" | "pitch">): string {
  const same = (a: number, b: number) => Math.abs(wrap(a - b)) < SAME_DEG;
  const upright = (side: Pick<Look, "pitch">) => Math.abs(side.pitch) > 90 - SAME_DEG;
  const named = SIDES.find((side) => same(side.pitch, pitch) && (upright(side) || same(side.yaw, yaw)));
  if (named) return `Seen from the ${named.words}.`;
  const quarter = Math.round(wrap(yaw) / 90);
  const off = Math.round(wrap(yaw) - 90 * quarter);
  const words = [`the ${ROUND[(quarter + 4) % 4]}`];
  if (off !== 0) words.push(`${Math.abs(off)}° towards the ${ROUND[(quarter + Math.sign(off) + 4) % 4]}`);
  if (Math.abs(pitch) >= SAME_DEG) words.push(`${Math.round(Math.abs(pitch))}° from ${pitch > 0 ? "above" : "below"}`);
  return `Seen from ${words.join(", ")}.`;
}

/** An angle between -180 and 180. */
function wrap(angle: number): number {
  return ((((angle + 180) % 360) + 360) % 360) - 180;
}
