import { draw, figure } from "../elements";

/** Lines of text of one size on the screen, whatever the zoom; `unit`: mm of a pixel. */
export function writeText(
  name: string,
  lines: string[],
  place: { x: number; y: number; anchor?: "start" | "middle" | "end"; angle?: number },
  unit: number,
): SVGTextElement {
  const turn = place.angle ? ` rotate(${figure(place.angle)})` : "";
  const text = draw("text", {
    class: name,
    transform: `translate(${figure(place.x)} ${figure(place.y)})${turn} scale(${unit.toFixed(5)})`,
    "text-anchor": place.anchor ?? "start",
  });
  if (lines.length === 1) text.append(lines[0]!);
  else lines.forEach((line, k) => text.append(draw("tspan", { x: 0, dy: k ? "1.15em" : 0 }, line)));
  return text;
}
