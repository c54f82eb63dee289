import { make } from "./elements";

const KEPT = "rillplate:scheme";
const WORDS = { auto: "as the system", light: "light", dark: "dark" } as const;
type Choice = keyof typeof WORDS;

/** Lets the reader choose light or dark; the choice is remembered where the browser allows it. */
export function makeSchemeSwitch(): HTMLElement {
  const chosen = readChoice();
  apply(chosen);
  const select = make("select", { id: "scheme" });
  for (const [value, words] of Object.entries(WORDS)) {
    select.append(make("option", { value, selected: value === chosen }, words));
  }
  select.addEventListener("change", () => {
    const choice = select.value as Choice;
    apply(choice);
    try {
      localStorage.setItem(KEPT, choice);
    } catch {
      // A browser that keeps nothing still shows it.
    }
  });
  return make("div", { class: "scheme" }, make("label", { for: "scheme" }, "Colours"), select);
}

function readChoice(): Choice {
  try {
    const kept = localStorage.getItem(KEPT);
    return kept !== null && kept in WORDS ? (kept as Choice) : "auto";
  } catch {
    return "auto";
  }
}

function apply(choice: Choice): void {
  const root = document.documentElement;
  if (choice === "auto") root.removeAttribute("data-scheme");
  else root.setAttribute("data-scheme", choice);
}
