import { draw, make } from "../elements";
import { KEYS_TOLD } from "./keys";

/** The stage with its layers, lowest first, on the ground that it fills, beside words on how it is worked. */
export function layGround(...layers: SVGElement[]): { svg: SVGSVGElement; ground: HTMLElement } {
  const svg = draw(
    "svg",
    {
      class: "plan-stage",
      role: "application",
      tabindex: 0,
      "aria-label": "Plan of the panel",
      "aria-describedby": "plan-keys",
    },
    ...layers,
  );
  const keys = make("p", { class: "plan-keys", id: "plan-keys" }, KEYS_TOLD);
  return { svg, ground: make("div", { class: "plan-ground" }, keys, svg) };
}
