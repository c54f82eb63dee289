import type { Lights } from "./light";

const FORWARD = new Set(["ArrowRight", "ArrowDown"]);
const BACK = new Set(["ArrowLeft", "ArrowUp"]);

/** Tells other parts of the page what was picked in the plan. */
function tellPicked(feature: string): void {
  if (feature) document.dispatchEvent(new CustomEvent("rillplate:show", { detail: { feature } }));
}

/** Makes ports and channels of the plan, and rows of tables that tell of them, answer to pointer and keys. */
export function connectPlan(lights: Lights, letGo: () => void): void {
  const things = [...document.querySelectorAll<SVGGElement>(".plan .thing")];

  const keep = (token: string) => {
    letGo();
    lights.keep(token);
    if (lights.isKept(token)) tellPicked(lights.featureOf(token));
  };

  for (const element of document.querySelectorAll<HTMLElement | SVGElement>("[data-token]")) {
    const token = element.getAttribute("data-token") ?? "";
    if (!lights.has(token) || element.classList.contains("thing")) continue;
    element.addEventListener("pointerenter", () => lights.point(token));
    element.addEventListener("pointerleave", () => lights.point(null));
    element.addEventListener("click", () => keep(token));
  }

  things.forEach((thing, number) => {
    const token = thing.getAttribute("data-token") ?? "";
    thing.addEventListener("focus", () => lights.point(token));
    thing.addEventListener("blur", () => lights.point(null));
    thing.addEventListener("click", () => keep(token));
    thing.addEventListener("keydown", (event) => {
      const last = things.length - 1;
      if (event.key === "Enter" || event.key === " ") keep(token);
      else if (FORWARD.has(event.key)) things[Math.min(number + 1, last)]?.focus();
      else if (BACK.has(event.key)) things[Math.max(number - 1, 0)]?.focus();
      else if (event.key === "Home") things[0]?.focus();
      else if (event.key === "End") things[last]?.focus();
      else return;
      event.preventDefault();
    });
  });

  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    letGo();
    lights.keep(null);
  });
}
