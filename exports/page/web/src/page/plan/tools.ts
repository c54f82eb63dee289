import { button, draw, make } from "../elements";
import { QUANTITIES, type Bands } from "./bands";
import { SignKey } from "./sign_key";
import type { SignsOf } from "./signs_told";
import type { Faces, Quantity } from "./plan_view";

/** What of the plan is chosen to be shown. */
export interface Chosen {
  quantity: Quantity;
  /** Whether cords and screws are drawn. */
  fastenings: boolean;
  faces: Faces;
}

export interface ToolHooks {
  zoom(factor: number): void;
  whole(): void;
  choose(chosen: Partial<Chosen>): void;
}

export interface Tools {
  /** Above the drawing. */
  bar: HTMLElement;
  /** Below it: the scale of colours, and the key of the signs. */
  legend: HTMLElement;
  showBands(bands: Bands): void;
  showSigns(shown: SignsOf): void;
  /** Whether there are cords and screws to show. */
  offerFastenings(offered: boolean): void;
  /** Whether there are channels in both faces to tell apart. */
  offerFaces(offered: boolean): void;
}

export const ZOOM_STEP = 1.35;

/** Buttons for zooming, the choice of colours and of what is shown, and the scale of colours. */
export function createTools(hooks: ToolHooks): Tools {
  const bar = make("div", { class: "plan-tools" });
  const zooms = make(
    "div",
    { class: "plan-zooms", role: "group", "aria-label": "how near" },
    drawnButton("nearer", "M7.5 3v9M3 7.5h9", () => hooks.zoom(ZOOM_STEP)),
    drawnButton("farther", "M3 7.5h9", () => hooks.zoom(1 / ZOOM_STEP)),
    drawnButton("all of the plate", "M1.5 3.5h12v8h-12zM4 6v3M11 6v3", () => hooks.whole()),
  );

  const quantities = [
    ["velocity", "velocity"],
    ["drop", "pressure drop"],
  ] as const;
  const choice = makeChoice("Channels by", "plan-quantity", quantities, (quantity) => hooks.choose({ quantity }));
  const faces = [
    ["both", "both"],
    ["front", "front"],
    ["back", "back"],
  ] as const;
  const facesChoice = makeChoice("Faces", "plan-faces", faces, (one) => hooks.choose({ faces: one }));
  facesChoice.hidden = true;

  const fastenings = make("input");
  fastenings.type = "checkbox";
  fastenings.checked = true;
  fastenings.addEventListener("change", () => hooks.choose({ fastenings: fastenings.checked }));
  const fasteningsLabel = make("label", { class: "plan-fastenings" }, fastenings, "cords and screws");
  fasteningsLabel.hidden = true;
  bar.append(zooms, choice, facesChoice, fasteningsLabel);

  const legend = make("div", { class: "plan-legend" });
  const facesTold = make(
    "ul",
    { class: "plan-faces" },
    make("li", {}, lineSwatch(""), "front face: full line"),
    make("li", {}, lineSwatch(" behind"), "back face: dashed"),
  );
  facesTold.hidden = true;
  const key = new SignKey();
  let drawn = "";
  return {
    bar,
    legend,
    showBands(bands) {
      const { unit, texts } = bands.scale;
      const { words } = QUANTITIES[bands.quantity];
      const now = words + texts.join();
      if (now === drawn) return;
      drawn = now;
      const list = make("ul");
      texts.slice(0, -1).forEach((text, k) => {
        list.append(make("li", {}, swatch(`band-${k}`), `${text} to ${texts[k + 1]!}`));
      });
      list.append(make("li", {}, swatch("still"), "no flow"));
      legend.replaceChildren(make("p", {}, `${words}, ${unit}`), list, facesTold, key.element);
    },
    showSigns: (shown) => key.show(shown),
    offerFastenings(offered) {
      fasteningsLabel.hidden = !offered;
    },
    offerFaces(offered) {
      facesChoice.hidden = facesTold.hidden = !offered;
    },
  };
}

/** One of a few, the first to begin with. */
function makeChoice<Of extends string>(
  legend: string,
  name: string,
  offered: readonly (readonly [Of, string])[],
  chosen: (one: Of) => void,
): HTMLFieldSetElement {
  const choice = make("fieldset", { class: "plan-quantity" });
  choice.append(make("legend", {}, legend));
  offered.forEach(([one, words], k) => {
    const input = make("input");
    input.type = "radio";
    input.name = name;
    input.checked = k === 0;
    input.addEventListener("change", () => chosen(one));
    choice.append(make("label", {}, input, words));
  });
  return choice;
}

/** A piece of a channel's edge as it is drawn in the plan. */
function lineSwatch(name: string): SVGSVGElement {
  return draw(
    "svg",
    { class: "plan-swatch", viewBox: "0 0 30 12", width: 30, height: 12, "aria-hidden": "true" },
    draw("path", { class: `channel-edge${name}`, d: "M1 6H29" }),
  );
}

function swatch(name: string): SVGSVGElement {
  return draw(
    "svg",
    { class: "plan-swatch", viewBox: "0 0 24 12", width: 24, height: 12, "aria-hidden": "true" },
    draw("path", { class: `leg ${name}`, d: "M6 6H18", "stroke-width": 11 }),
    draw("path", { class: "channel-edge", d: "M6 .5H18A5.5 5.5 0 0 1 18 11.5H6A5.5 5.5 0 0 1 6 .5Z" }),
  );
}

function drawnButton(words: string, path: string, pressed: () => void): HTMLButtonElement {
  const box = { viewBox: "0 0 15 15", width: 15, height: 15, "aria-hidden": "true" };
  const names = { class: "plan-button", title: words, "aria-label": words };
  return button(draw("svg", box, draw("path", { d: path })), pressed, names);
}
