import {
  AmbientLight,
  Box3,
  Color,
  DirectionalLight,
  Scene as DrawnScene,
  Vector3,
  WebGLRenderer,
} from "three";
import { Controls, type Shown, type Side } from "./controls";
import { AXES, CutPlane, type Axis } from "./cut";
import { FlowLines } from "./flow";
import { takeHands } from "./hands";
import { Legend } from "./legend";
import { Marks, type MarkSort } from "./marks";
import { Measuring } from "./measure";
import { featureCalled } from "./names";
import { Orbit, type Look } from "./orbit";
import { PartGroup } from "./parts";
import { Picker, type Picked } from "./pick";
import { nameFinding, Pins } from "./pins";
import type { Feature, Finding, Scene } from "./scene";
import { chosenScheme, watchScheme, type Scheme } from "./scheme";
import { listStops, type Stop } from "./stops";
import { said, tell, tellShown, tellSide } from "./told";

/** What a page may ask of a viewer, and what it is told. */
export interface Options {
  /** As `Viewer.state` gave it: a view of a panel that changed a little goes on where it was. */
  state?: ViewerState;
  picked?: (feature: Feature) => void;
  drawn?: () => void;
}

export interface ViewerState {
  look: Look;
  shown: Shown;
}

export interface Viewer {
  readonly state: ViewerState;
  showFinding(index: number): void;
  showFeature(name: string): void;
  dispose(): void;
}

const MOST_PIXEL_RATIO = 2;
/** How long the view must stand still before it is told anew where it is seen from. */
const STILL_MS = 400;
/** What of each tube is in the picture at first: the panel stays what is looked at. */
const TUBE_START_MM = 120;
const SEEN_THROUGH = 0.25;
const COOLANT = "coolant";
const MARK_SORTS: readonly MarkSort[] = ["walls", "air", "stays"];

/** Shows a scene in an element; throws where there is no WebGL. */
export function createViewer(element: HTMLElement, scene: Scene, options: Options = {}): Viewer {
  return new SolidViewer(element, scene, options);
}

/** This browser, or this machine, draws no 3D. */
export class NoWebGL extends Error {}

/** Asks for WebGL itself: three complains aloud where there is none. */
function openRenderer(): WebGLRenderer {
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("webgl2", { antialias: true, stencil: true, alpha: false });
  if (!context) throw new NoWebGL("this browser has no WebGL 2");
  return new WebGLRenderer({ canvas, context });
}

class SolidViewer implements Viewer {
  private readonly box = new Box3();
  private readonly renderer: WebGLRenderer;
  private readonly drawn = new DrawnScene();
  private readonly cutPlane = new CutPlane();
  private readonly groups: PartGroup[];
  private readonly flow: FlowLines;
  private readonly marks: Marks;
  private readonly pins: Pins;
  private readonly legend = new Legend();
  private readonly orbit: Orbit;
  private readonly picker: Picker;
  private readonly shown: Shown;
  private readonly controls: Controls;
  private readonly root = document.createElement("div");
  private readonly stage = document.createElement("div");
  private readonly nameTag = document.createElement("div");
  private readonly said = { shown: said(), side: said(), marked: said(), measured: said() };
  private readonly measuring: Measuring;
  private readonly ends: (() => void)[] = [];
  private scheme: Scheme = chosenScheme();
  private frame = 0;
  private hover: { x: number; y: number } | null = null;
  private hoverFrame = 0;
  private still = 0;
  private stop: Stop | null = null;
  private first = true;

  constructor(
    element: HTMLElement,
    private readonly scene: Scene,
    private readonly options: Options,
  ) {
    this.renderer = openRenderer();
    for (const { places } of scene.meshes) {
      for (let k = 0; k < places.length; k += 3) {
        this.box.expandByPoint(new Vector3(places[k], places[k + 1], places[k + 2]));
      }
    }
    const size = 2.5 * this.box.getSize(new Vector3()).length();
    const names = [...new Set(scene.meshes.map((mesh) => mesh.part.group))];
    this.groups = names.map((name, k) => {
      const meshes = scene.meshes.filter((mesh) => mesh.part.group === name);
      return new PartGroup(name, meshes, this.cutPlane, k + 1, size);
    });
    this.flow = new FlowLines(scene, this.cutPlane);
    this.marks = new Marks(scene);
    this.pins = new Pins(scene.findings, (finding) => this.goToFinding(finding));
    this.orbit = new Orbit(this.box, this.boxWithTubes(TUBE_START_MM), this.boxWithTubes(Infinity), () => {
      this.ask();
      this.tellSideSoon();
    });
    this.picker = new Picker(scene, this.groups, this.flow, this.marks, this.cutPlane);
    this.measuring = new Measuring(this.stage, this.groups, this.cutPlane, this.orbit.camera, (text) =>
      tell(this.said.measured, text),
    );
    this.shown = this.shownOf(names, options.state?.shown);
    this.controls = this.makeControls(names);
    this.light();
    this.drawn.add(...this.groups.flatMap((group) => group.objects), this.flow.mesh, ...this.marks.objects);
    this.lay(element);
    this.listen();
    this.apply();
    this.measure();
    this.resize();
    this.orbit.set(options.state?.look ?? this.orbit.whole(-32, 24));
    this.tellSide();
  }

  get state(): ViewerState {
    return { look: this.orbit.state, shown: structuredClone(this.shown) };
  }

  showFinding(index: number): void {
    const finding = this.scene.findings.find((each) => each.index === index);
    if (finding) this.goToFinding(finding);
  }

  showFeature(name: string): void {
    const feature = featureCalled(this.scene, name);
    if (feature) this.goToFeature(feature);
  }

  dispose(): void {
    cancelAnimationFrame(this.frame);
    cancelAnimationFrame(this.hoverFrame);
    clearTimeout(this.still);
    for (const end of this.ends) end();
    for (const thing of [...this.groups, this.flow, this.marks, this.renderer]) thing.dispose();
    this.renderer.forceContextLoss();
    this.root.remove();
  }

  /** The panel with its tubes, as far as they are within a length of their start. */
  private boxWithTubes(length: number): Box3 {
    const box = this.box.clone();
    for (const { points, outer } of this.scene.tubes) {
      let left = length;
      points.forEach((point, k) => {
        const to = new Vector3(...point);
        const from = new Vector3(...(points[k - 1] ?? point));
        const run = from.distanceTo(to);
        if (left <= 0) return;
        const end = run > left ? from.lerp(to, left / run) : to;
        box.expandByPoint(end.clone().addScalar(outer / 2)).expandByPoint(end.addScalar(-outer / 2));
        left -= run;
      });
    }
    return box;
  }

  private firstShown(names: string[]): Shown {
    const groups = Object.fromEntries(
      names.map((name) => [name, name === COOLANT || name === "cords" ? 0 : SEEN_THROUGH]),
    );
    const quantity = this.scene.flow.some((line) => line.flows) ? this.scene.quantities[0]!.key : null;
    const cut = { axis: null, at: 0, turned: false };
    return { groups, flow: quantity, cut, pins: true, walls: true, air: true, stays: false, measuring: false };
  }

  /** What was shown before, as far as this scene has it. */
  private shownOf(names: string[], before?: Shown): Shown {
    const first = this.firstShown(names);
    if (!before) return first;
    const groups = Object.fromEntries(names.map((name) => [name, before.groups[name] ?? first.groups[name]!]));
    const known = this.scene.quantities.some(({ key }) => key === before.flow);
    return { ...structuredClone(before), groups, flow: known ? before.flow : null };
  }

  private makeControls(names: string[]): Controls {
    const { min, max } = this.box;
    const range = Object.fromEntries(
      AXES.map((axis): [Axis, [number, number]] => [axis, [Math.floor(min[axis]), Math.ceil(max[axis])]]),
    ) as Record<Axis, [number, number]>;
    const has = {
      pins: this.pins.count > 0,
      walls: this.scene.walls.length > 0,
      air: this.scene.pockets.some((pocket) => pocket.of === "air"),
      stays: this.scene.pockets.some((pocket) => pocket.of === "coolant"),
    };
    return new Controls(
      this.shown,
      { groups: names, quantities: this.scene.quantities, range, has },
      {
        changed: () => this.apply(),
        look: (side) => this.lookFrom(side),
        zoom: (factor) => this.orbit.zoom(factor),
        whole: () => this.home(),
        cutAlong: (axis) => this.cutAlong(axis),
        step: (by) => this.step(by),
        measure: () => this.measure(),
        takeMarked: () => this.measuring.takeMarked(),
      },
    );
  }

  private light(): void {
    // Both lights go with the reader: no side of the panel is ever in the dark.
    this.drawn.add(new AmbientLight(0xffffff, 1.3), this.orbit.camera);
    const lamp = new DirectionalLight(0xffffff, 2.1);
    lamp.position.set(-0.35, 0.55, 1);
    this.orbit.camera.add(lamp, lamp.target);
  }

  private lay(element: HTMLElement): void {
    const canvas = this.renderer.domElement;
    canvas.tabIndex = 0;
    canvas.setAttribute("role", "application");
    canvas.setAttribute("aria-label", `${this.scene.name} in 3D`);
    this.root.className = "solid-live";
    this.stage.className = "solid-stage";
    this.nameTag.className = "solid-name";
    this.nameTag.hidden = true;
    this.nameTag.setAttribute("aria-hidden", "true");
    const told = document.createElement("p");
    told.className = "solid-said solid-told";
    told.append(this.said.shown, " ", this.said.side, " ", this.said.marked, " ", this.said.measured);
    const help = document.createElement("p");
    help.className = "solid-said";
    help.id = `solid-help-${Math.max(1, document.querySelectorAll(".solid-live").length + 1)}`;
    help.textContent =
      "Drag to go round the panel, with Shift or the right button to move it; click it, then turn the wheel to come " +
      "nearer. Keys: arrows, Shift and arrows, + and −, Home for all of it, Escape to unmark. Double click flies there. " +
      "On a touch screen tap it first: until then a finger moves the page.";
    canvas.setAttribute("aria-describedby", help.id);
    this.stage.append(canvas, this.measuring.element, this.pins.element, this.nameTag);
    const seen = document.createElement("div");
    seen.className = "solid-seen";
    seen.append(this.stage, this.legend.element);
    const box = document.createElement("div");
    box.className = "solid-box";
    box.append(seen, this.controls.element);
    this.root.append(box, told, help);
    element.append(this.root);
  }

  private listen(): void {
    const canvas = this.renderer.domElement;
    const at = (x: number, y: number): Picked | null =>
      this.picker.pick((2 * x) / canvas.clientWidth - 1, 1 - (2 * y) / canvas.clientHeight, this.orbit.camera);
    const hands = takeHands(canvas, this.orbit, {
      hover: (x, y) => {
        this.hover = { x, y };
        this.askName();
      },
      leave: () => {
        this.hover = null;
        this.tagAt(null, 0, 0);
        this.measuring.point(null);
      },
      click: (x, y) => {
        if (this.shown.measuring) {
          this.measuring.takeAt(x, y);
          return;
        }
        const feature = at(x, y)?.feature ?? null;
        this.mark(feature);
        if (feature) this.options.picked?.(feature);
      },
      double: (x, y) => {
        const picked = this.shown.measuring ? null : at(x, y);
        if (picked) this.orbit.fly(this.orbit.near(picked.at, this.nearSize));
      },
      home: () => this.home(),
      escape: () => {
        if (!this.shown.measuring) return this.mark(null);
        this.shown.measuring = false;
        this.controls.update();
        this.measure();
      },
      enter: () => this.measuring.takeMarked(),
    });
    const sizes = new ResizeObserver(() => this.resize());
    sizes.observe(this.stage);
    const scheme = watchScheme((wished) => {
      this.scheme = wished;
      this.apply();
    });
    const stop = new AbortController();
    const { signal } = stop;
    canvas.addEventListener("webglcontextlost", (event) => event.preventDefault(), { signal });
    canvas.addEventListener("webglcontextrestored", () => this.ask(), { signal });
    this.ends.push(hands, scheme, () => sizes.disconnect(), () => stop.abort());
  }

  private get nearSize(): number {
    return Math.max(12, 0.09 * this.box.getSize(new Vector3()).length());
  }

  private home(): void {
    const { yaw, pitch } = this.orbit.state;
    this.orbit.fly(this.orbit.whole(yaw, pitch));
  }

  private lookFrom(side: Side): void {
    this.orbit.fly(this.orbit.whole(side.yaw, side.pitch));
    this.tellSide();
  }

  private cutAlong(axis: Axis | null): void {
    const { cut } = this.shown;
    if (axis !== null && axis !== cut.axis) {
      const middle = this.box.getCenter(new Vector3());
      cut.at = Math.round(2 * (axis === "z" ? this.channelDepth(middle.z) : middle[axis])) / 2;
      // The half towards the reader goes, so that the cut is seen.
      const from = this.orbit.camera.position;
      cut.turned = from[axis] < middle[axis];
    }
    cut.axis = axis;
    this.apply();
  }

  /** Where a cut across z shows most channels: at the depth of the first one that carries coolant. */
  private channelDepth(otherwise: number): number {
    const line = this.scene.flow.find((each) => each.flows);
    return line ? line.points[Math.floor(line.points.length / 2)]![2] : otherwise;
  }

  private goToFinding(finding: Finding): void {
    const feature = finding.features.map((name) => featureCalled(this.scene, name)).find((each) => each) ?? null;
    const at = finding.at ?? feature?.at;
    this.mark(feature, `${nameFinding(finding)}. ${finding.text}`, finding);
    if (at) this.orbit.fly(this.orbit.near(new Vector3(...at), 1.6 * this.nearSize));
  }

  /** Goes to the next of the marks that are shown, round and round. */
  private step(by: 1 | -1): void {
    const stops = listStops(this.scene, this.shown);
    const now = this.stop;
    const at = now ? stops.findIndex((each) => each.text === now.text && each.at.equals(now.at)) : -1;
    const next = at < 0 ? (by > 0 ? 0 : stops.length - 1) : (at + by + stops.length) % stops.length;
    const stop = stops[next];
    if (!stop) {
      tell(this.said.marked, "No mark is shown.");
      return;
    }
    const finding = this.scene.findings.find((each) => each.index === stop.finding) ?? null;
    const feature = stop.feature ? featureCalled(this.scene, stop.feature) : null;
    this.mark(feature, `${next + 1} of ${stops.length}: ${stop.text}`, finding, stop);
    this.orbit.fly(this.orbit.near(stop.at, 1.6 * this.nearSize));
  }

  private goToFeature(feature: Feature): void {
    this.mark(feature);
    this.orbit.fly(this.orbit.near(new Vector3(...feature.at), 2.2 * this.nearSize));
  }

  private mark(
    feature: Feature | null,
    text = feature?.name ?? "",
    finding: Finding | null = null,
    stop: Stop | null = null,
  ): void {
    this.pins.choose(finding);
    this.marks.mark(feature);
    this.stop = stop;
    const place = stop?.at.toArray() ?? finding?.at ?? feature?.at;
    this.measuring.marked = place ? { at: new Vector3(...place), words: stop?.text ?? text } : null;
    this.pins.ring(stop && stop.finding === null ? stop.at : null);
    tell(this.said.marked, text && `Marked: ${text}`);
    this.ask();
  }

  /** Brings all that is drawn to what is wished. */
  private apply(): void {
    const { shown, scheme } = this;
    this.cutPlane.move(shown.cut);
    for (const group of this.groups) {
      group.paint(scheme);
      group.show(shown.groups[group.name] ?? 0);
    }
    this.flow.mesh.visible = shown.flow !== null;
    if (shown.flow !== null) this.flow.paint(shown.flow, scheme);
    this.legend.show(shown.flow === null ? null : this.flow.scale);
    this.marks.paint(scheme);
    for (const sort of MARK_SORTS) this.marks.groups[sort].visible = shown[sort];
    this.pins.show(shown.pins);
    this.drawn.background = new Color(scheme.ground);
    this.ask();
    tell(this.said.shown, tellShown(shown, this.scene));
  }

  private measure(): void {
    this.root.classList.toggle("solid-measuring", this.shown.measuring);
    this.measuring.start(this.shown.measuring);
  }

  private tellSide(): void {
    tell(this.said.side, tellSide(this.orbit.aim));
  }

  /** Tells where the panel is seen from once it has stood still: not each step of a turn. */
  private tellSideSoon(): void {
    clearTimeout(this.still);
    this.still = window.setTimeout(() => this.tellSide(), STILL_MS);
  }

  private resize(): void {
    const { clientWidth, clientHeight } = this.stage;
    if (clientWidth === 0 || clientHeight === 0) return;
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, MOST_PIXEL_RATIO));
    this.renderer.setSize(clientWidth, clientHeight, false);
    this.orbit.resize(clientWidth / clientHeight);
  }

  /** Asks for one frame; without a wish none is drawn. */
  private ask(): void {
    if (this.frame === 0) this.frame = requestAnimationFrame((now) => this.draw(now));
  }

  private draw(now: number): void {
    this.frame = 0;
    const flies = this.orbit.update(now);
    const centre = this.box.getCenter(new Vector3());
    for (const group of this.groups) group.update(centre, this.renderer.getPixelRatio());
    this.flow.update();
    this.marks.update(this.cutPlane);
    this.renderer.localClippingEnabled = this.cutPlane.isOn;
    this.renderer.render(this.drawn, this.orbit.camera);
    this.pins.update(this.orbit.camera, this.stage.clientWidth, this.stage.clientHeight, this.cutPlane);
    this.measuring.lay();
    this.tellCamera(flies);
    if (flies) this.ask();
    if (this.first) this.options.drawn?.();
    this.first = false;
  }

  /** Says where the camera is, for whoever looks from outside: angles in degrees, lengths in mm. */
  private tellCamera(flies: boolean): void {
    const { yaw, pitch, distance, target } = this.orbit.state;
    this.root.dataset.camera = [yaw, pitch, distance, ...target].map((value) => value.toFixed(1)).join(" ");
    this.root.dataset.still = String(!flies);
  }

  /** Asks once a frame what lies under the pointer; nothing is drawn for it. */
  private askName(): void {
    if (this.hoverFrame !== 0) return;
    this.hoverFrame = requestAnimationFrame(() => {
      this.hoverFrame = 0;
      if (!this.hover) return;
      if (this.shown.measuring) this.measuring.point(this.hover);
      else this.tagUnderPointer(this.hover.x, this.hover.y);
    });
  }

  private tagUnderPointer(x: number, y: number): void {
    const { clientWidth, clientHeight } = this.stage;
    const picked = this.picker.pick((2 * x) / clientWidth - 1, 1 - (2 * y) / clientHeight, this.orbit.camera);
    this.tagAt(picked, x, y);
  }

  private tagAt(picked: Picked | null, x: number, y: number): void {
    this.nameTag.hidden = picked === null;
    if (!picked) return;
    this.nameTag.textContent = picked.text;
    const left = Math.max(0, Math.min(x + 14, this.stage.clientWidth - this.nameTag.offsetWidth));
    const top = y + 18 + this.nameTag.offsetHeight > this.stage.clientHeight ? y - 10 - this.nameTag.offsetHeight : y + 18;
    this.nameTag.style.transform = `translate(${left}px, ${top}px)`;
  }
}
