import type { FindingDoc, PlanDoc, ThingId } from "./messages";
import { readScene, type Feature, type Scene } from "../viewer/scene";
import { createViewer, type Viewer } from "../viewer/viewer";

const FOCUSABLE = "canvas, button, input, select";

/** The 3D view of the newest scene; camera and what is shown are kept from scene to scene. */
export class SolidView {
  private now: { viewer: Viewer; scene: Scene; box: HTMLElement } | null = null;
  /** Ends the scene that is being fetched or drawn, where there is one. */
  private overtake: () => void = () => {};

  constructor(
    private readonly host: HTMLElement,
    private readonly picked: (feature: Feature) => void,
  ) {}

  /** Fetches and shows a scene; resolves once it is drawn, to false where a newer one overtook it. */
  async load(address: string): Promise<boolean> {
    this.overtake();
    let overtaken = () => {};
    const stopped = new Promise<null>((done) => (overtaken = () => done(null)));
    const stop = new AbortController();
    let late = false;
    this.overtake = () => {
      late = true;
      stop.abort();
      overtaken();
    };
    let scene: Scene;
    try {
      const answer = await fetch(address, { cache: "no-store", signal: stop.signal });
      if (!answer.ok) throw new Error(`the solid could not be fetched (${answer.status})`);
      scene = await readScene(await answer.text());
    } catch (error) {
      if (late) return false;
      throw error;
    }
    if (late) return false;
    const before = this.now;
    const box = document.createElement("div");
    box.className = before ? "solid-next" : "solid-now";
    this.host.append(box);
    let made: Viewer | null = null;
    try {
      const drawn = new Promise<Viewer>((done) => {
        made = createViewer(box, scene, {
          ...(before && { state: before.viewer.state }),
          picked: this.picked,
          drawn: () => done(made!),
        });
      });
      // In a tab that nobody sees nothing is drawn, and scenes would pile up.
      const viewer = await Promise.race([drawn, stopped]);
      if (!viewer || late) {
        made!.dispose();
        box.remove();
        return false;
      }
      this.now = { viewer, scene, box };
    } catch (error) {
      box.remove();
      throw error;
    }
    if (before) {
      const held = placeOfFocus(before.box);
      before.viewer.dispose();
      before.box.remove();
      box.className = "solid-now";
      box.querySelectorAll<HTMLElement>(FOCUSABLE)[held]?.focus({ preventScroll: true });
    }
    return true;
  }

  showFinding({ code, text, number }: FindingDoc): void {
    if (!this.now) return;
    const { findings } = this.now.scene;
    const same = findings.find((each) => each.code === code && each.text === text);
    if (same) this.now.viewer.showFinding(same.index);
    else if (findings[number]?.code === code) this.now.viewer.showFinding(number);
  }

  showThing(id: ThingId): void {
    this.now?.viewer.showFeature(id.replace(/^(port|channel):/, "$1 ").replace(/^channel /, ""));
  }
}

/** The thing of the plan that a feature of the solid belongs to. */
export function thingOf({ name }: Feature, plan: PlanDoc): ThingId | null {
  const things = [...plan.channels, ...plan.ports].map(({ id, name: called }) => {
    const kind = id.slice(0, id.indexOf(":"));
    return { id, called: `${kind} ${called}` };
  });
  const plain = name.replace(/^spot face /, "port ");
  const named = things
    .filter(({ called }) => plain === called || plain.startsWith(`${called} `))
    .sort((a, b) => b.called.length - a.called.length)[0];
  if (named) return named.id;
  return name.startsWith("tank") ? "tank" : name.startsWith("pump") ? "pump" : null;
}

/** Which of the view's controls has the focus; -1: none. */
function placeOfFocus(box: HTMLElement): number {
  return [...box.querySelectorAll(FOCUSABLE)].indexOf(document.activeElement!);
}
