import type { Lights } from "./light";

const COUNTED = ["no finding is shown", "1 finding is shown"];

/** Shows only findings of the severities that are ticked. */
export function connectFilter(): void {
  const boxes = [...document.querySelectorAll<HTMLInputElement>(".filter input")];
  const rows = [...document.querySelectorAll<HTMLElement>(".findings > li")];
  const said = document.getElementById("findings-said");
  const sift = () => {
    const wanted = new Set(boxes.filter((box) => box.checked).map((box) => box.value));
    let shown = 0;
    for (const row of rows) {
      row.hidden = !wanted.has(row.dataset["severity"] ?? "");
      if (!row.hidden) shown += 1;
    }
    if (said) said.textContent = COUNTED[shown] ?? `${shown} findings are shown`;
  };
  for (const box of boxes) box.addEventListener("change", sift);

  // A link to a finding that is not shown shows it.
  const reveal = (hash: string) => {
    const aimed = rows.find((row) => `#${row.id}` === hash);
    if (!aimed?.hidden) return;
    for (const box of boxes) if (box.value === aimed.dataset["severity"]) box.checked = true;
    sift();
    aimed.scrollIntoView();
  };
  addEventListener("hashchange", () => reveal(location.hash));
  // A second click on the same link changes no address.
  document.addEventListener("click", (event) => {
    const link = event.target instanceof Element ? event.target.closest<HTMLAnchorElement>("a[href]") : null;
    if (link) reveal(link.hash);
  });
}

/** Makes the buttons of findings lead to their place in the plan and in the solid. Returns what hides the mark again. */
export function connectPlaces(lights: () => Lights | null): () => void {
  const finder = document.getElementById("plan-finder");
  const letGo = () => finder?.classList.remove("shown");
  for (const buttons of document.querySelectorAll<HTMLElement>(".buttons")) buttons.hidden = false;
  for (const button of document.querySelectorAll<HTMLButtonElement>("[data-on-plan]")) {
    button.addEventListener("click", () => {
      const [x, y] = (button.dataset["onPlan"] ?? "").split(" ");
      const tokens = (button.dataset["tokens"] ?? "").split(" ").filter(Boolean);
      const text = button.closest("li")?.querySelector("p")?.textContent ?? "";
      lights()?.showAll(tokens, text);
      letGo();
      if (x && y && finder) {
        finder.setAttribute("transform", `translate(${x} ${y})`);
        finder.classList.add("shown");
      }
      goTo("plan-title");
    });
  }
  for (const button of document.querySelectorAll<HTMLButtonElement>("[data-in-solid]")) {
    button.addEventListener("click", () => {
      const finding = Number(button.dataset["inSolid"]);
      document.dispatchEvent(new CustomEvent("rillplate:show", { detail: { finding } }));
      goTo("solid-title");
    });
  }
  return letGo;
}

/** Moves to a heading, for eyes and for the keyboard. */
function goTo(id: string): void {
  const heading = document.getElementById(id);
  heading?.scrollIntoView({ block: "start" });
  heading?.focus({ preventScroll: true });
}
