import { make } from "../elements";
import type { FindingDoc, PlanDoc, PlanTold, ProblemDoc, ThingId, Xy } from "../messages";
import { makeBands, type Bands } from "./bands";
import { Camera } from "./camera";
import { tellStanding } from "./draw_marks";
import { groundOf, isUnrouted, UNROUTED } from "./ground";
import { Hand } from "./hand";
import { holdAt, holdBy, holdResized, holdTurned, isMoved, type Handle } from "./holding";
import { pressKey, type KeyHooks } from "./keys";
import { isInBothFaces } from "./draw_channels";
import { flip } from "./panel_frame";
import { marginsOf, Picture, type Shown } from "./picture";
import type { PlanHooks, PlanView, ShowOptions } from "./plan_view";
import { Pointers, type PointerHooks, type Target } from "./pointers";
import { snap } from "./snap";
import { layGround } from "./stage_ground";
import { ThingLayer } from "./thing_layer";
import { tellLine, tellUnmoved } from "./told_line";
import { axisOf, findThing, isMovable, nameOf, placeOf, rectOfThing, turnBy, type Thing } from "./things";
import { createTools, type Chosen, type Tools } from "./tools";

/** How near `flyTo` goes at least. */
const NEAR_PX_PER_MM = 4;
const PAN_STEP_PX = 40;

/** The plan in its element: ties the drawing, the pointers, the keys and what is in hand together. */
export class PlanStage implements PlanView {
  private readonly svg: SVGSVGElement;
  private readonly told = make("p", { class: "plan-told" });
  private readonly picture = new Picture();
  private readonly things = new ThingLayer();
  private readonly camera = new Camera();
  private readonly tools: Tools;
  private readonly pointers: Pointers;
  private readonly hand: Hand;
  private readonly watch: ResizeObserver;
  private settled: PlanTold | null = null;
  private problem: ProblemDoc | null = null;
  private bands: Bands | null = null;
  private readonly chosen: Chosen = { quantity: "velocity", fastenings: true, faces: "both" };
  private selected: ThingId | null = null;
  private hovered: ThingId | null = null;
  private marked: number | null = null;
  /** Where in the thing it was taken, mm of the panel; the handle by which. */
  private grip: { by: Xy; handle: Handle | null } | null = null;
  /** What is told until the next act: why something went back, or does not move. */
  private note = "";
  private frame = 0;
  private whole = true;

  constructor(
    private readonly element: HTMLElement,
    private readonly hooks: PlanHooks,
  ) {
    this.hand = new Hand(hooks, () => this.redraw());
    this.tools = createTools({
      zoom: (factor) => this.zoom(factor),
      whole: () => this.showWhole(),
      choose: (chosen) => {
        Object.assign(this.chosen, chosen);
        this.redraw();
      },
    });
    const { svg, ground } = layGround(this.picture.element, this.things.element, this.picture.handles);
    this.svg = svg;
    element.classList.add("plan-view");
    element.append(this.tools.bar, ground, this.told, make("p", { class: "plan-unrouted" }, UNROUTED), this.tools.legend);
    // Before anybody hears of the act that ends it.
    for (const act of ["pointerdown", "keydown"]) this.svg.addEventListener(act, () => this.noteDown(""), true);
    this.pointers = new Pointers(this.svg, this.pointerHooks());
    this.svg.addEventListener("keydown", (event) => {
      if (pressKey(event, this.focused(), this.selected, this.keyHooks())) {
        event.preventDefault();
        event.stopPropagation();
      }
    });
    this.svg.addEventListener("focusin", () => {
      const focused = this.focused();
      if (focused === null) return;
      this.things.makeStop(focused);
      this.bringIntoSight(focused);
      this.hover(focused);
    });
    this.svg.addEventListener("focusout", (event) => {
      this.hover(null);
      // What was moved by keys becomes an edit when one goes elsewhere.
      if (this.hand.holds && !this.grip && event.relatedTarget !== event.target) this.dropHeld();
    });
    this.watch = new ResizeObserver(() => this.resize());
    this.watch.observe(this.svg);
    this.tellState();
  }

  get drawn(): PlanDoc | null {
    return this.settled?.plan ?? null;
  }

  get drafting(): boolean {
    return this.hand.holds;
  }

  show(told: PlanTold, { revision }: ShowOptions): void {
    const first = this.settled === null;
    if (this.element.dataset.planRevision !== String(revision)) this.note = "";
    this.settled = told;
    this.problem = null;
    this.element.dataset.planRevision = String(revision);
    const draws = this.hand.settle(told.plan, revision);
    this.frameCamera(told.plan);
    if (first || (this.whole && !this.grip)) this.camera.showWhole();
    if (this.selected !== null && !findThing(told.plan, this.selected) && draws) this.choose(null);
    this.redraw();
  }

  showProblem(problem: ProblemDoc, { revision }: ShowOptions, last: PlanTold | null): void {
    const ground = groundOf(last, problem);
    const was = this.settled?.plan;
    if (ground) this.show(ground, { revision });
    else {
      this.element.dataset.planRevision = String(revision);
      this.hand.settle(null, revision);
    }
    this.problem = problem;
    if (ground && isUnrouted(ground.plan) && !(was && isUnrouted(was))) this.hooks.say(UNROUTED);
    this.redraw();
  }

  showDraft(number: number, answer: PlanTold | null, problem: ProblemDoc | null): boolean {
    return this.hand.takeAnswer(number, answer, problem);
  }

  takeRefusal(number: number): boolean {
    return this.hand.takeRefusal(number);
  }

  askLostAgain(): void {
    this.hand.askLostAgain();
  }

  showPlaces(number: number, thing: ThingId, pitch: number, nodes: Xy[], why: string): void {
    this.hand.takePlaces(number, thing, { pitch, nodes, why });
  }

  dropDraft(): void {
    // What was said of the thing in hand is no answer to what comes now.
    this.note = "";
    this.letGo();
    this.pointers.breakOff();
    this.hand.forget();
    this.redraw();
  }

  select(id: ThingId | null, focus = false): void {
    this.selected = id;
    this.note = "";
    this.redraw();
    if (focus && id !== null) this.things.focus(id);
  }

  flyTo(at: Xy | null, id: ThingId | null = null): void {
    const plan = this.hand.shown;
    if (!plan) return;
    const thing = findThing(plan, id);
    let place = at && flip(plan, at);
    if (!place && thing) {
      const { x, y, width, height } = rectOfThing(plan, thing);
      place = [x + width / 2, y + height / 2];
    }
    if (!place) return;
    this.whole = false;
    this.camera.flyTo(place, NEAR_PX_PER_MM);
    if (thing) this.choose(thing.id);
    this.redraw();
  }

  markFinding(finding: FindingDoc | null): void {
    this.marked = finding?.number ?? null;
    this.redraw();
  }

  middle(): Xy {
    const plan = this.hand.shown;
    if (!plan) return [0, 0];
    const [x, y] = flip(plan, this.camera.middle);
    return [snap(plan.pitch, x), snap(plan.pitch, y)];
  }

  dispose(): void {
    this.watch.disconnect();
    this.hand.dispose();
    cancelAnimationFrame(this.frame);
    this.element.replaceChildren();
  }

  // ---- Pointers and keys --------------------------------------------------------------------------------------------

  private pointerHooks(): PointerHooks {
    return {
      near: () => !this.camera.seesPlate,
      isSelected: (thing) => thing === this.selected,
      pan: (dx, dy) => this.pan(dx, dy),
      zoom: (factor, about) => this.zoom(factor, about),
      hover: (thing) => this.hover(thing),
      click: (target) => this.click(target),
      open: (thing) => this.hooks.openNumbers(thing),
      take: (target, at) => this.take(target, at),
      drag: (at) => this.drag(at),
      drop: () => {
        this.letGo();
        this.dropHeld();
      },
      cancel: () => {
        this.letGo();
        this.hand.cancel();
      },
    };
  }

  private keyHooks(): KeyHooks {
    return {
      zoom: (factor) => this.zoom(factor),
      whole: () => this.showWhole(),
      pan: ([x, y]) => this.pan(-x * PAN_STEP_PX, y * PAN_STEP_PX),
      select: (thing) => {
        this.choose(thing);
        const chosen = findThing(this.hand.shown, thing);
        this.hooks.say(
          chosen ? `${nameOf(chosen)} selected${isMovable(chosen) ? ", arrow keys move it" : ""}` : "nothing selected",
        );
      },
      step: (id, steps) => this.step(id, steps),
      turn: (id, quarters) => this.turn(id, quarters),
      remove: (id) => this.remove(id),
      open: (id) => {
        if (this.hand.holds) this.hand.drop();
        this.choose(id);
        this.hooks.openNumbers(id);
      },
      walk: (id, steps) => {
        const next = this.things.neighbour(id, steps);
        if (next !== null) this.things.focus(next);
      },
      cancel: () => this.cancel(),
    };
  }

  private click({ thing, finding }: Target): void {
    if (finding !== null) return this.hooks.finding(finding);
    this.choose(thing);
    if (thing !== null) this.things.focus(thing);
    else this.svg.focus({ preventScroll: true });
  }

  private take({ thing: id, handle }: Target, at: Xy): "taken" | "stays" | "none" {
    const plan = this.hand.shown;
    const thing = findThing(plan, id);
    // Channels lie everywhere: by them the drawing is moved, as by the plate.
    if (!plan || !thing || thing.kind === "channel") return "none";
    if (!isMovable(thing)) {
      this.choose(thing.id);
      this.noteDown(tellUnmoved(thing));
      this.hooks.say(this.note);
      return "stays";
    }
    if (!this.hand.take(thing, false)) return "none";
    const [x, y] = this.toPanel(plan, at);
    const place = placeOf(thing)!;
    this.grip = { by: [x - place[0], y - place[1]], handle };
    this.choose(thing.id);
    this.things.focus(thing.id);
    return "taken";
  }

  /** Lets go of what is in hand; why it goes back, if it does, is told on. */
  private dropHeld(): void {
    const why = this.hand.refusal;
    this.hand.drop();
    this.noteDown(why);
  }

  private noteDown(note: string): void {
    this.note = note;
    this.tellState();
  }

  /** The pointer holds nothing any more: the stage is fitted to the room that there is now. */
  private letGo(): void {
    if (!this.grip) return;
    this.grip = null;
    this.resize();
  }

  private drag(at: Xy): void {
    const plan = this.hand.shown;
    const { hold } = this.hand;
    const thing = hold && findThing(plan, hold.id);
    if (!plan || !hold || !thing || !this.grip) return;
    const [x, y] = this.toPanel(plan, at);
    const { by, handle } = this.grip;
    this.hand.move(
      handle ? holdResized(plan, hold, handle, [x, y]) : holdAt(plan, hold, thing, [x - by[0], y - by[1]]),
    );
  }

  private step(id: ThingId, steps: Xy): void {
    const thing = this.takeByKeys(id);
    if (!thing) return;
    const axis = axisOf(thing);
    if (axis !== null && !steps[axis]) {
      return this.hooks.say(`${nameOf(thing)} moves along its edge only: ${axis ? "up and down" : "left and right"}`);
    }
    this.hand.move(holdBy(this.hand.shown!, this.hand.hold!, thing, steps));
    this.bringIntoSight(id);
  }

  private turn(id: ThingId, quarters: number): void {
    const thing = findThing(this.hand.shown, id);
    if (thing?.kind !== "pump") return;
    const held = this.takeByKeys(id);
    if (held?.kind !== "pump") return;
    this.hand.move(holdTurned(this.hand.hold!, turnBy(held.of, quarters)));
  }

  private takeByKeys(id: ThingId): Thing | null {
    const thing = findThing(this.hand.shown, id);
    if (!thing) return null;
    if (!isMovable(thing)) {
      this.noteDown(tellUnmoved(thing));
      this.hooks.say(this.note);
      return null;
    }
    return this.hand.take(thing, true) ? thing : null;
  }

  private remove(id: ThingId): void {
    const thing = findThing(this.hand.shown, id);
    if (thing?.kind !== "clear") return;
    this.hand.cancel();
    this.hooks.edit([{ remove: id }], `remove ${nameOf(thing)}`);
  }

  private cancel(): boolean {
    const { hold } = this.hand;
    if (!this.hand.holds || !hold) return false;
    const thing = findThing(this.settled?.plan ?? null, hold.id);
    this.letGo();
    this.pointers.breakOff();
    this.hand.cancel();
    if (thing) this.hooks.say(`${nameOf(thing)} stays where it was`);
    return true;
  }

  private choose(id: ThingId | null): void {
    if (id === this.selected) return;
    this.selected = id;
    this.hooks.selected(id);
    this.redraw();
  }

  private hover(id: ThingId | null): void {
    if (id === this.hovered) return;
    this.hovered = id;
    this.redraw();
  }

  private focused(): ThingId | null {
    const focused = document.activeElement;
    return this.svg.contains(focused) ? (focused?.getAttribute("data-thing") ?? null) : null;
  }

  // ---- What is seen -------------------------------------------------------------------------------------------------

  private toPanel(plan: PlanDoc, at: Xy): Xy {
    return flip(plan, this.camera.toMm(at));
  }

  private pan(dx: number, dy: number): void {
    this.whole = false;
    this.camera.pan(dx, dy);
    this.aim();
  }

  /** Shows what the camera sees; by one finger the page is moved as long as that is the whole plate. */
  private aim(): void {
    this.svg.setAttribute("viewBox", this.camera.viewBox);
    this.svg.classList.toggle("near", !this.camera.seesPlate);
  }

  private zoom(factor: number, about?: Xy): void {
    this.whole = false;
    this.camera.zoom(factor, about);
    this.redraw();
  }

  private showWhole(): void {
    this.whole = true;
    this.camera.showWhole();
    this.redraw();
  }

  private resize(): void {
    const { width, height } = this.svg.getBoundingClientRect();
    if (!width || !height) return;
    const corner = this.camera.toMm([0, 0]);
    this.camera.setStage(width, height);
    if (this.settled) this.frameCamera(this.settled.plan);
    // What the pointer holds stays below it, whatever becomes of the room around.
    if (this.grip) this.camera.setCorner(corner);
    else if (this.whole) this.camera.showWhole();
    this.redraw();
  }

  /** Keeps the plate and the room beside it in mind. */
  private frameCamera(plan: PlanDoc): void {
    this.camera.setPlate({ x: 0, y: 0, width: plan.width, height: plan.height }, marginsOf(plan, this.camera.size));
  }

  /** Moves the drawing where the thing with the focus lies outside of what is seen. */
  private bringIntoSight(id: ThingId): void {
    const plan = this.hand.shown;
    const thing = findThing(plan, id);
    if (!plan || !thing || this.whole) return;
    const [dx, dy] = this.camera.wayInto(rectOfThing(plan, thing));
    if (dx || dy) this.pan(dx, dy);
  }

  /** Draws all anew with the next picture of the screen: however many changes there are, once. */
  private redraw(): void {
    if (!this.frame) this.frame = requestAnimationFrame(() => this.drawNow());
    this.tellState();
  }

  private drawNow(): void {
    this.frame = 0;
    const plan = this.hand.shown;
    if (!plan || !this.settled) return;
    this.bands = makeBands(plan, this.chosen.quantity, this.hand.state.phase === "none" ? null : this.bands);
    this.tools.showBands(this.bands);
    this.tools.offerFastenings(this.settled.plan.cords.length + this.settled.plan.screws.length > 0);
    const both = isInBothFaces(plan);
    this.tools.offerFaces(both);
    const { faces } = this.chosen;
    for (const face of ["front", "back"]) this.svg.classList.toggle(`faces-${face}`, both && faces === face);
    this.aim();
    this.svg.style.setProperty("--unit", this.camera.unit.toFixed(5));
    const shown = this.collect(plan, this.bands);
    this.picture.draw(shown, this.camera.seesPlate ? this.camera.seen : null);
    if (!shown.hold) this.tools.showSigns(shown);
    const states = new Map<ThingId, string>();
    if (this.hand.holds && shown.hold && isMoved(shown.hold)) states.set(shown.hold.id, tellStanding(shown.standing));
    if (this.things.update(plan, this.camera.unit, this.selected, states)) this.svg.focus({ preventScroll: true });
  }

  private collect(plan: PlanDoc, bands: Bands): Shown {
    const { hand } = this;
    const told = hand.answer ?? this.settled!;
    const problem = hand.problem ?? (hand.state.phase === "none" ? this.problem : null);
    return {
      plan,
      settled: this.settled!.plan,
      bands,
      unit: this.camera.unit,
      stage: this.camera.size,
      type: Number.parseFloat(getComputedStyle(document.documentElement).fontSize),
      selected: this.selected,
      hovered: this.hovered,
      hold: hand.holds ? hand.hold : null,
      standing: hand.standing,
      places: hand.holds ? hand.places : null,
      findings: told.findings,
      marked: this.marked,
      problem,
      fastenings: this.chosen.fastenings,
    };
  }

  /** Says in classes, attributes and one visible line what is shown. */
  private tellState(): void {
    const { hand, element } = this;
    const { phase, shown, newest } = hand.state;
    element.dataset.draftShown = shown === null ? "" : String(shown);
    element.dataset.draftPhase = phase;
    Object.assign(document.documentElement.dataset, {
      draftPhase: phase,
      draftNumber: shown === null ? "" : String(shown),
      draftNewest: newest === null ? "" : String(newest),
    });
    this.svg.classList.toggle("drafted", hand.state.phase !== "none" && hand.answer !== null);
    this.svg.classList.toggle("waiting", hand.waiting);
    this.svg.classList.toggle("dragging", this.grip !== null);
    // Not with each draft: below a pointer that holds something the page stays as it is.
    element.classList.toggle("unrouted", this.drawn !== null && isUnrouted(this.drawn));
    // Routes of before, until a draft has some of its own.
    this.svg.classList.toggle("outdated", hand.answer === null && (this.problem ?? hand.problem) !== null);
    const pointed = findThing(hand.shown, this.hovered ?? this.selected);
    this.told.textContent = tellLine(hand, this.note, pointed, this.problem, this.pointers.byFinger);
  }
}
