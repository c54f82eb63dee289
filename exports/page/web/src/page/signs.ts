import { draw } from "./elements";

export type Sign = "fault" | "caution" | "note" | "good" | "open";

/** Half of the square that the shapes fill. */
export const SIGN_HALF = 8;

/**
 * Shapes on 16 by 16, those of the report (`parts.html` there): a severity is told by shape and word, not by its colour
 * alone, and by the same shape in the list, in the plan and on the solid.
 */
export const GROUNDS: Record<Sign, string> = {
  fault: "M4.7 0h6.6L16 4.7v6.6L11.3 16H4.7L0 11.3V4.7z",
  caution: "M8 .6L16 15.4H0z",
  note: "M0 8a8 8 0 1 0 16 0a8 8 0 1 0-16 0z",
  good: "M3 0h10a3 3 0 0 1 3 3v10a3 3 0 0 1-3 3H3a3 3 0 0 1-3-3V3a3 3 0 0 1 3-3z",
  open: "M0 8L8 0l8 8-8 8z",
};

const LINES: Record<Sign, string> = {
  fault: "M5 5l6 6M11 5l-6 6",
  caution: "M8 5.6v4.6M8 12v1.6",
  note: "M8 7.2v5M8 3.6v1.7",
  good: "M3.6 8.4l3 3 5.8-6.6",
  open: "M4.9 8h.2M7.9 8h.2M10.9 8h.2",
};

/** A sign as tall as a letter, beside its word. */
export function drawSign(sign: Sign): SVGSVGElement {
  return draw(
    "svg",
    { viewBox: "0 0 16 16", class: `sign ${sign}`, "aria-hidden": "true" },
    draw("path", { d: GROUNDS[sign], class: "ground" }),
    draw("path", { d: LINES[sign], class: "line" }),
  );
}
