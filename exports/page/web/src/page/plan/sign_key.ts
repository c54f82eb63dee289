import { draw, make } from "../elements";
import { listSigns, type SignsOf, type SignTold } from "./signs_told";

/** Of the picture of a sign, pixels; one that is as high as wide is higher. */
const WIDE_PX = 72;
const HIGH_PX = 30;
const HIGHER_PX = 60;
/** A sign higher than so many mm is drawn higher. */
const HIGHER_MM = 30;

/** The key of the plan, in a fold: what its signs mean, those that occur in it, drawn as they are there. */
export class SignKey {
  readonly element = make("details", { class: "plan-signs" }, make("summary", {}, "What the signs mean"));
  private readonly listed = make("div", { class: "plan-signs-listed" });
  private shown: SignsOf | null = null;
  private stale = true;

  constructor() {
    this.element.append(this.listed);
    this.element.addEventListener("toggle", () => this.list());
  }

  show(shown: SignsOf): void {
    const { plan, bands, findings, problem } = shown;
    const before = this.shown;
    const same = before?.plan === plan && before.findings === findings && before.problem === problem;
    this.stale ||= !same || before.bands.scale !== bands.scale;
    this.shown = shown;
    this.list();
  }

  /** Nobody looks at it while it is closed. */
  private list(): void {
    if (!this.shown || !this.stale || !this.element.open) return;
    this.stale = false;
    const signs = listSigns(this.shown);
    const passing = signs.filter((sign) => sign.passing);
    this.listed.replaceChildren(
      listOf(signs.filter((sign) => !sign.passing)),
      ...(passing.length ? [make("p", {}, "While something is pointed at or in hand:"), listOf(passing)] : []),
    );
  }
}

function listOf(signs: SignTold[]): HTMLUListElement {
  return make("ul", {}, ...signs.map((sign) => make("li", {}, drawSign(sign), make("span", {}, sign.words))));
}

function drawSign({ rect, unit: given, draw: drawn }: SignTold): SVGSVGElement {
  const high = given ? Math.max(rect.height / given, HIGH_PX) : rect.height > HIGHER_MM ? HIGHER_PX : HIGH_PX;
  const unit = given ?? Math.max(rect.width / WIDE_PX, rect.height / high);
  const [width, height] = [WIDE_PX * unit, high * unit];
  const left = rect.x + (rect.width - width) / 2;
  const top = rect.y + (rect.height - height) / 2;
  const svg = draw(
    "svg",
    {
      class: "plan-sign",
      viewBox: `${left} ${top} ${width} ${height}`,
      width: WIDE_PX,
      height: high,
      "aria-hidden": "true",
    },
    ...drawn(unit),
  );
  svg.style.setProperty("--unit", unit.toFixed(5));
  return svg;
}
