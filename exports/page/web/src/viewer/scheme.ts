/** Colours of the view in the light and in the dark scheme; those of pages stand in the style sheet. */
export interface Scheme {
  ground: string;
  edge: string;
  edgeOpacity: number;
  /** By which the colours of parts are taken darker. */
  shade: number;
  coolant: string;
  still: string;
  tube: string;
  wall: string;
  air: string;
  stays: string;
  mark: string;
}

const LIGHT: Scheme = {
  ground: "#ffffff",
  edge: "#22303a",
  edgeOpacity: 0.55,
  shade: 1,
  coolant: "#2b8fc0",
  still: "#8b979e",
  tube: "#66747e",
  wall: "#c2187a",
  air: "#d98a0b",
  stays: "#164ed6",
  mark: "#c0392b",
};

const DARK: Scheme = {
  ground: "#1b2126",
  edge: "#d7e0e5",
  edgeOpacity: 0.45,
  shade: 0.62,
  coolant: "#3d9fcb",
  still: "#7b8890",
  tube: "#9aa8b0",
  wall: "#ff6fbf",
  air: "#ffc457",
  stays: "#7fb2ff",
  mark: "#ff8a75",
};

const WISH = "(prefers-color-scheme: dark)";
/** On the root element of a page that lets its reader choose: "light" or "dark". */
const CHOICE = "data-scheme";

/** Returns the scheme that the page's reader chose, else the one that the reader's system asks for. */
export function chosenScheme(): Scheme {
  const choice = document.documentElement.getAttribute(CHOICE);
  const dark = choice === "dark" || (choice !== "light" && matchMedia(WISH).matches);
  return dark ? DARK : LIGHT;
}

/** Calls back each time the wish changes, until the returned function is called. */
export function watchScheme(changed: (scheme: Scheme) => void): () => void {
  const wish = matchMedia(WISH);
  const tell = () => changed(chosenScheme());
  wish.addEventListener("change", tell);
  const choice = new MutationObserver(tell);
  choice.observe(document.documentElement, { attributeFilter: [CHOICE] });
  return () => {
    wish.removeEventListener("change", tell);
    choice.disconnect();
  };
}
