import { connectFilter, connectPlaces } from "./findings";
import { unfoldForPrint } from "./folds";
import { Lights } from "./light";
import { connectPlan } from "./plan";
import { watchWide } from "./wide";

/** Connects plan, tables and findings with each other, and with the solid by events of the document. */
function connectPage(): void {
  watchWide();
  unfoldForPrint();
  connectFilter();
  let lights: Lights | null = null;
  const letGo = connectPlaces(() => lights);
  const data = document.getElementById("lights")?.textContent;
  if (!data) return;
  const line = document.getElementById("plan-said");
  const made = new Lights(data, (text) => {
    if (line) line.textContent = text;
  });
  lights = made;
  connectPlan(made, letGo);
  document.addEventListener("rillplate:picked", (event) => {
    const picked = (event as CustomEvent<{ feature?: string }>).detail?.feature ?? "";
    const token = made.tokenOf(picked);
    letGo();
    if (token && !made.isKept(token)) made.keep(token);
  });
}

connectPage();
