import type { PerspectiveCamera, Vector3 } from "three";
import type { CutPlane } from "./cut";
import type { PartGroup } from "./parts";
import { Snapper, type Snapped, type SnappedTo } from "./snap";

const SVG = "http://www.w3.org/2000/svg";
const ON: Record<SnappedTo, string> = { corner: "corner", edge: "edge", cut: "cut face", surface: "surface" };
/** From the line's middle to its label, [px]. */
const ASIDE_PX = 12;

/** A place that was or may be taken, and in words what it is or what it is on. */
export interface Taken {
  at: Vector3;
  words: string;
}

/** Measuring in the picture: takes places by pointer and by marks, draws and tells what lies between two. */
export class Measuring {
  /** The place of what is marked, for those who measure by keys. */
  marked: Taken | null = null;
  private readonly lines: MeasureLines;
  private readonly snapper: Snapper;
  private on = false;

  /** `said` is told what was taken and measured. */
  constructor(
    private readonly stage: HTMLElement,
    groups: PartGroup[],
    cutPlane: CutPlane,
    private readonly camera: PerspectiveCamera,
    private readonly said: (text: string) => void,
  ) {
    this.lines = new MeasureLines(said);
    this.snapper = new Snapper(groups, cutPlane);
  }

  get element(): HTMLElement {
    return this.lines.element;
  }

  /** Begins measuring, or ends it; what was measured goes. */
  start(on: boolean): void {
    this.on = on;
    this.lines.clear();
    this.said(on ? "Measuring: take two places." : "");
    this.lay();
  }

  takeAt(x: number, y: number): void {
    const snapped = this.snap(x, y);
    if (snapped) this.lines.take(snapped.at, nameSnapped(snapped.on));
    else this.said("There is nothing to measure at this place.");
    this.lay();
  }

  takeMarked(): void {
    if (!this.on) return;
    if (this.marked) this.lines.take(this.marked.at, this.marked.words);
    else this.said("No place is marked: step to a mark first, or press a part while measuring is off.");
    this.lay();
  }

  /** Shows what the pointer would take. */
  point(at: { x: number; y: number } | null): void {
    if (!this.on) return;
    this.lines.point(at && this.snap(at.x, at.y));
    this.lay();
  }

  /** Lays what is drawn over its places, as the camera sees them now. */
  lay(): void {
    this.lines.update(this.camera, this.stage.clientWidth, this.stage.clientHeight);
  }

  private snap(x: number, y: number): Snapped | null {
    return this.snapper.snap(x, y, this.stage.clientWidth, this.stage.clientHeight, this.camera);
  }
}

/** Two places of the solid, the line between them and its length: drawn over the picture, nothing in it. */
class MeasureLines {
  readonly element = document.createElement("div");
  private readonly line = document.createElementNS(SVG, "line");
  private readonly halo = document.createElementNS(SVG, "line");
  private readonly dots = [dot("solid-measure-end"), dot("solid-measure-end"), dot("solid-measure-here")] as const;
  private readonly label = document.createElement("div");
  private from: Taken | null = null;
  private to: Taken | null = null;
  private here: Taken | null = null;

  constructor(private readonly said: (text: string) => void) {
    this.element.className = "solid-measure";
    this.element.setAttribute("aria-hidden", "true");
    const picture = document.createElementNS(SVG, "svg");
    this.halo.setAttribute("class", "solid-measure-halo");
    this.line.setAttribute("class", "solid-measure-line");
    this.label.className = "solid-measure-label";
    picture.append(this.halo, this.line, ...this.dots);
    this.element.append(picture, this.label);
    this.update(null, 0, 0);
  }

  /** Whether a second place is waited for. */
  get begun(): boolean {
    return this.from !== null && this.to === null;
  }

  /** Takes a place: the first, the second, then the first of the next measure. */
  take(at: Vector3, words: string): void {
    if (this.begun) {
      this.to = { at: at.clone(), words };
      this.said(`Measured from ${this.from!.words} to ${words}: ${tellLength(this.from!.at, at)}.`);
      return;
    }
    this.from = { at: at.clone(), words };
    this.to = null;
    this.said(`First place: ${words}, x ${mm(at.x)}, y ${mm(at.y)}, z ${mm(at.z)} mm. Take the second.`);
  }

  /** Shows what the pointer would take; null where there is nothing. */
  point(snapped: Snapped | null): void {
    this.here = snapped && { at: snapped.at, words: ON[snapped.on] };
  }

  clear(): void {
    this.from = this.to = this.here = null;
  }

  /** Lays all over its places. */
  update(camera: PerspectiveCamera | null, width: number, height: number): void {
    const seen = (taken: Taken | null) => (taken && camera ? project(taken.at, camera, width, height) : null);
    const places = [this.from, this.to, this.here].map(seen);
    this.dots.forEach((each, k) => place(each, places[k] ?? null));
    const end = this.to ?? (this.from ? this.here : null);
    const [a, b] = [places[0] ?? null, seen(end)];
    for (const line of [this.halo, this.line]) {
      line.classList.toggle("solid-measure-off", !a || !b);
      if (!a || !b) continue;
      line.setAttribute("x1", a[0].toFixed(1));
      line.setAttribute("y1", a[1].toFixed(1));
      line.setAttribute("x2", b[0].toFixed(1));
      line.setAttribute("y2", b[1].toFixed(1));
    }
    const here = places[2];
    if (a && b && this.from && end) {
      this.tag(tellLines(this.from.at, end.at), (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, width, height);
    }
    else if (here && this.here) this.tag([this.here.words], here[0], here[1], width, height);
    else this.label.hidden = true;
  }

  private tag(lines: string[], x: number, y: number, width: number, height: number): void {
    this.label.hidden = false;
    const text = lines.join("\n");
    if (this.label.textContent !== text) this.label.textContent = text;
    const left = Math.max(0, Math.min(x + ASIDE_PX, width - this.label.offsetWidth));
    const top = Math.max(0, Math.min(y + ASIDE_PX, height - this.label.offsetHeight));
    this.label.style.transform = `translate(${left.toFixed(1)}px, ${top.toFixed(1)}px)`;
  }
}

/** What a place that was snapped to is called. */
function nameSnapped(on: SnappedTo): string {
  return on === "edge" ? "an edge" : `a ${ON[on]}`;
}

function tellLength(from: Vector3, to: Vector3): string {
  return tellLines(from, to).join(", ");
}

/** "12.35 mm", "dx 3.00, dy −12.00, dz 0.00 mm" */
function tellLines(from: Vector3, to: Vector3): string[] {
  const way = to.clone().sub(from);
  return [`${mm(way.length())} mm`, `dx ${mm(way.x)}, dy ${mm(way.y)}, dz ${mm(way.z)} mm`];
}

function mm(value: number): string {
  const text = Math.abs(value).toFixed(2);
  return value < 0 && Number(text) !== 0 ? `\u2212${text}` : text;
}

function dot(name: string): SVGCircleElement {
  const circle = document.createElementNS(SVG, "circle");
  circle.setAttribute("class", name);
  circle.setAttribute("r", name === "solid-measure-here" ? "7" : "4");
  return circle;
}

function place(circle: SVGCircleElement, at: [number, number] | null): void {
  circle.classList.toggle("solid-measure-off", !at);
  if (!at) return;
  circle.setAttribute("cx", at[0].toFixed(1));
  circle.setAttribute("cy", at[1].toFixed(1));
}

/** A place in the picture, in pixels from its upper left; null behind the camera. */
function project(at: Vector3, camera: PerspectiveCamera, width: number, height: number): [number, number] | null {
  const { x, y, z } = at.clone().project(camera);
  return z > 1 || z < -1 ? null : [((x + 1) / 2) * width, ((1 - y) / 2) * height];
}
