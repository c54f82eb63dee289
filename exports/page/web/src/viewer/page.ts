import css from "./viewer.css?inline";
import { painted } from "./painted";
import { readScene } from "./scene";
import { createViewer, NoWebGL } from "./viewer";

/** What another part of the page asks to be shown: a finding by its number in the list, or a feature by its name. */
export interface Wish {
  finding?: number;
  feature?: string;
}

/** Puts the scene that the page carries in place of its picture; where that cannot be, the picture stays. */
export async function showSolid(): Promise<void> {
  const element = document.getElementById("solid");
  const text = document.getElementById("scene")?.textContent;
  if (!element || !text) return;
  const root = document.documentElement;
  const wishes: Wish[] = [];
  let wish = (asked: Wish): void => void wishes.push(asked);
  document.addEventListener("rillplate:show", (event) => wish((event as CustomEvent<Wish>).detail));
  addStyle();
  // A picture that is soon covered is not painted first: that takes longer than the solid itself.
  const picture = wrapPicture(element);
  const waiting = document.createElement("div");
  waiting.className = "solid-waiting";
  waiting.textContent = "The 3D view is being made.";
  element.append(waiting);
  picture.hidden = true;
  try {
    await painted();
    const scene = await readScene(text);
    const viewer = createViewer(element, scene, {
      picked: (feature) =>
        document.dispatchEvent(new CustomEvent("rillplate:picked", { detail: { feature: feature.name } })),
      drawn: () => {
        root.dataset.solid = "ready";
        root.dataset.solidMs = performance.now().toFixed(0);
        performance.mark("rillplate:solid");
      },
    });
    wish = ({ finding, feature }) => {
      if (finding !== undefined) viewer.showFinding(finding);
      else if (feature !== undefined) viewer.showFeature(feature);
    };
    wishes.forEach((asked) => wish(asked));
  } catch (error) {
    picture.hidden = false;
    root.dataset.solid = "none";
    element.append(tellMissing(error));
  } finally {
    waiting.remove();
  }
}

/** Says why there is only the picture; what is more than a browser without 3D is told in the console too. */
function tellMissing(error: unknown): HTMLElement {
  if (!(error instanceof NoWebGL)) console.warn(error);
  const why = error instanceof Error ? error.message : String(error);
  const line = document.createElement("p");
  line.className = "solid-missing";
  line.textContent = `The 3D view could not be made: ${why}.`;
  return line;
}

function wrapPicture(element: HTMLElement): HTMLElement {
  const picture = document.createElement("div");
  picture.className = "solid-picture";
  picture.append(...element.childNodes);
  element.append(picture);
  return picture;
}

function addStyle(): void {
  const style = document.createElement("style");
  style.textContent = css;
  document.head.append(style);
}
