import { draw, figure, setAll } from "../elements";
import type { PlanDoc, ThingId } from "../messages";
import { flip, isEdge, rectAround, rectOf, type Rect } from "./panel_frame";
import { isMovable, KINDS, nameOf, placeOf, pumpRadius, rectOfThing, tell, thingsOf, type Kind, type Thing } from "./things";

/** Least size of what can be hit by a pointer, in pixels. */
const LEAST_HIT_PX = 24;
const GROUPS: Record<Kind, string> = {
  tank: "tank",
  pump: "pump",
  port: "ports, in the order of the flow",
  channel: "channels, in the order of the flow",
  clear: "keep-clear boxes",
};

/**
 * What can be pointed at, focused and read out: an unseen shape over each thing. Elements stay while their thing does,
 * whatever is drawn anew below them: neither focus nor a pointer that is held is lost.
 */
export class ThingLayer {
  readonly element = draw("g", { class: "things" });
  private readonly groups = new Map<Kind, SVGGElement>();
  /** Channels are hit below the ports at their ends, but read out after them. */
  private readonly channelHits = draw("g", { "aria-hidden": "true" });
  /** Channels end at the pump: at its inlet the pump is hit, not they. */
  private readonly inletHit = draw("circle", { class: "inlet-hit", "data-hit": "pump", "aria-hidden": "true" });
  private readonly elements = new Map<ThingId, SVGGElement>();
  private readonly hits = new Map<ThingId, SVGPathElement>();
  private things: Thing[] = [];

  constructor() {
    for (const kind of KINDS) {
      const group = draw("g", { role: "group", "aria-label": GROUPS[kind], class: `things-of-${kind}` });
      this.groups.set(kind, group);
      if (kind === "port") this.element.append(this.channelHits, this.inletHit);
      this.element.append(group);
    }
  }

  /** Returns whether the thing with the focus is gone. */
  update(plan: PlanDoc, unit: number, selected: ThingId | null, states: Map<ThingId, string>): boolean {
    this.things = thingsOf(plan);
    const gone = new Set(this.elements.keys());
    const least = (LEAST_HIT_PX / 2) * unit;
    const next = new Map<Kind, SVGGElement>();
    for (const thing of this.things) {
      gone.delete(thing.id);
      const group = this.groups.get(thing.kind)!;
      const element = this.elements.get(thing.id) ?? this.make(thing);
      const before = next.get(thing.kind);
      const there = before ? before.nextElementSibling : group.firstElementChild;
      if (there !== element) group.insertBefore(element, there);
      next.set(thing.kind, element);
      const place = placeOf(thing);
      const state = states.get(thing.id);
      setAll(element, {
        "aria-label": state ? `${tell(thing)}, ${state}` : tell(thing),
        "aria-pressed": String(thing.id === selected),
        "data-at": place ? place.map(figure).join(" ") : "",
      });
      element.classList.toggle("movable", isMovable(thing));
      const hit = element.firstElementChild as SVGElement;
      if (thing.kind === "channel") {
        const path = thing.of.legs.map((leg) => leg.path).join("");
        setAll(hit, { d: path, "stroke-width": Math.max(thing.of.width, 3 * unit) });
        setAll(this.hits.get(thing.id)!, { d: path, "stroke-width": Math.max(thing.of.width, 2 * least) });
      } else setAll(hit, { ...this.hitOf(plan, thing, least) });
    }
    const [cx, cy] = flip(plan, plan.pump.inlet);
    setAll(this.inletHit, { cx, cy, r: Math.max(plan.pump.inlet_radius, least) });
    this.inletHit.classList.toggle("movable", plan.pump.movable);
    let lost = false;
    for (const id of gone) {
      const element = this.elements.get(id)!;
      lost ||= element === document.activeElement;
      element.remove();
      this.elements.delete(id);
      this.hits.get(id)?.remove();
      this.hits.delete(id);
    }
    for (const [kind, group] of this.groups) {
      const own = this.things.filter((thing) => thing.kind === kind).map((thing) => this.elements.get(thing.id)!);
      if (group.hasAttribute("hidden") !== !own.length) group.toggleAttribute("hidden", !own.length);
      const stop = own.find((one) => one.getAttribute("tabindex") === "0") ?? own[0];
      for (const one of own) one.setAttribute("tabindex", one === stop ? "0" : "-1");
    }
    return lost;
  }

  has(id: ThingId): boolean {
    return this.elements.has(id);
  }

  /** Puts the keyboard there, and makes it the stop of its group. */
  focus(id: ThingId): void {
    const element = this.elements.get(id);
    if (!element) return;
    this.makeStop(id);
    element.focus({ preventScroll: true });
  }

  makeStop(id: ThingId): void {
    const element = this.elements.get(id);
    for (const one of element?.parentElement?.children ?? [])
      one.setAttribute("tabindex", one === element ? "0" : "-1");
  }

  /** The thing so many steps further in its group; the first or the last where there are no more. */
  neighbour(id: ThingId, steps: number): ThingId | null {
    const thing = this.things.find((one) => one.id === id);
    if (!thing) return null;
    const own = this.things.filter((one) => one.kind === thing.kind);
    const at = Math.min(Math.max(own.indexOf(thing) + steps, 0), own.length - 1);
    return own[at]!.id;
  }

  private make(thing: Thing): SVGGElement {
    const shape = thing.kind === "channel" ? "path" : thing.kind === "pump" ? "circle" : "rect";
    const element = draw(
      "g",
      {
        class: `thing thing-${thing.kind}`,
        role: "button",
        tabindex: -1,
        "data-thing": thing.id,
        "aria-roledescription": nameOf(thing).split(" ")[0]!,
      },
      draw(shape, { class: "hit" }),
    );
    this.elements.set(thing.id, element);
    if (thing.kind === "channel") {
      const hit = draw("path", { class: "channel-hit", "data-hit": thing.id });
      this.hits.set(thing.id, hit);
      this.channelHits.append(hit);
    }
    return element;
  }

  private hitOf(plan: PlanDoc, thing: Thing, least: number): Record<string, number> {
    if (thing.kind === "pump") {
      const [cx, cy] = flip(plan, thing.of.inlet);
      return { cx, cy, r: Math.max(pumpRadius(thing.of), least) };
    }
    const { x, y, width, height } = this.rectHit(plan, thing);
    const [wide, high] = [Math.max(width, 2 * least), Math.max(height, 2 * least)];
    const rx = thing.kind === "port" ? Math.min(wide, high) / 2 : thing.kind === "tank" ? thing.of.corner_radius : 0;
    return { x: x - (wide - width) / 2, y: y - (high - height) / 2, width: wide, height: high, rx };
  }

  private rectHit(plan: PlanDoc, thing: Thing): Rect {
    if (thing.kind === "port" && isEdge(thing.of.on)) {
      return rectAround(flip(plan, thing.of.at), thing.of.collar_radius);
    }
    return thing.kind === "clear" ? rectOf(plan, thing.of.box) : rectOfThing(plan, thing);
  }
}
