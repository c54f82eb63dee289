import type { Actions, Region } from "./actions";
import { make, tell } from "./elements";
import type { FindingDoc, ThingId } from "./messages";
import type { SolidView } from "./solid_view";
import { painted } from "../viewer/painted";
import { shownPlan, type State } from "./state";

/** A screen that has room for the solid at once. */
const ROOMY = "(min-width: 64rem) and (min-height: 40rem)";
/** A solid waits this long after the hand has left the plan: making it ready takes the page's time. */
const CALM_MS = 250;

/** What the page says of the solid, in `html[data-solid]`. */
type Readiness = "none" | "told" | "loading" | "ready" | "stale" | "failed";

/** The 3D view: its script and its scene are fetched once it is looked at. */
export class Solid implements Region {
  readonly element: HTMLElement;
  private readonly toggle = make("button", { type: "button", "aria-controls": "solid" });
  private readonly status = make("p", { class: "soft solid-status", role: "status" });
  private readonly host = make("div", { id: "solid", class: "solid-host" });
  private view: SolidView | null = null;
  private state: State | null = null;
  private seen = false;
  /** The count of the scene that is shown, and of the one being fetched. */
  private drawn = { count: 0, revision: 0, checked: false };
  private asked = 0;
  private failed = "";
  private busyUntil = 0;
  private held = false;
  private timer = 0;

  constructor(private readonly actions: Actions) {
    this.toggle.addEventListener("click", () => this.open(Boolean(this.host.hidden)));
    this.element = make(
      "section",
      { class: "solid", "aria-labelledby": "solid-title" },
      make("div", { class: "bar" }, make("h2", { id: "solid-title", tabindex: "-1" }, "Solid"), this.toggle, this.status),
      this.host,
    );
    // While a thing is in hand nothing else may take the page's time.
    const release = () => {
      this.held = false;
      this.busyUntil = performance.now() + CALM_MS;
      this.loadSoon();
    };
    addEventListener("pointerdown", () => (this.held = true), true);
    addEventListener("pointerup", release, true);
    addEventListener("pointercancel", release, true);
    new IntersectionObserver(
      ([entry]) => {
        this.seen = entry!.isIntersecting;
        this.loadSoon();
      },
      { rootMargin: "120px" },
    ).observe(this.host);
    document.addEventListener("visibilitychange", () => this.loadSoon());
    this.open(matchMedia(ROOMY).matches);
  }

  show(state: State): void {
    this.state = state;
    this.loadSoon();
    this.tell();
  }

  showFinding(finding: FindingDoc): void {
    this.view?.showFinding(finding);
  }

  showThing(id: ThingId): void {
    this.view?.showThing(id);
  }

  private open(on: boolean): void {
    this.host.hidden = !on;
    this.toggle.setAttribute("aria-expanded", String(on));
    tell(this.toggle, on ? "fold" : "show");
    this.toggle.setAttribute("aria-label", on ? "fold the solid" : "show the solid");
    this.tell();
  }

  private loadSoon(): void {
    clearTimeout(this.timer);
    const told = this.state?.solid;
    if (!told || !this.seen || this.host.hidden || told.count === this.asked || this.held) return;
    // In a tab that nobody sees nothing is drawn: the newest waits until it is seen.
    if (document.hidden) return;
    const pause = Math.max(0, this.busyUntil - performance.now());
    this.timer = window.setTimeout(() => void this.load(told), pause);
  }

  private async load(told: NonNullable<State["solid"]>): Promise<void> {
    this.asked = told.count;
    this.tell();
    try {
      if (!this.view) {
        await painted();
        const { SolidView, thingOf } = await import("./solid_view");
        this.view ??= new SolidView(this.host, (feature) => {
          const plan = this.state && shownPlan(this.state);
          const id = plan && thingOf(feature, plan.plan);
          if (id) this.actions.select(id);
        });
      }
      if (await this.view.load(told.address)) {
        this.drawn = { count: told.count, revision: told.revision, checked: told.checked };
        this.failed = "";
      }
    } catch (error) {
      this.failed = error instanceof Error ? error.message : String(error);
    }
    this.tell();
    this.loadSoon();
  }

  private get readiness(): Readiness {
    const told = this.state?.solid;
    if (this.failed && this.drawn.count === 0) return "failed";
    const newest = this.state?.file?.revision ?? 0;
    if (this.drawn.count > 0) return this.drawn.revision === newest ? "ready" : "stale";
    if (!told) return "none";
    return this.asked === told.count ? "loading" : "told";
  }

  private tell(): void {
    const { readiness } = this;
    document.documentElement.dataset.solid = readiness;
    document.documentElement.dataset.solidRevision = String(this.drawn.revision);
    const words: Record<Readiness, string> = {
      none: "There is no solid yet.",
      told: "",
      loading: "The 3D view is being made.",
      ready: this.drawn.checked ? "" : "Its walls are not checked yet.",
      stale: "This is the solid of an older plan.",
      failed: `The 3D view could not be made: ${this.failed}.`,
    };
    tell(this.status, this.failed && readiness !== "failed" ? `The newest could not be shown: ${this.failed}.` : words[readiness]);
    this.host.classList.toggle("stale", readiness === "stale");
  }
}
