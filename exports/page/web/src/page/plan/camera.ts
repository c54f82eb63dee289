import type { Xy } from "../messages";
import type { Rect } from "./panel_frame";

const MOST_PX_PER_MM = 40;
/** How much smaller than "all of it" the plate may be drawn. */
const LEAST_SHARE = 0.6;

/** Room around the plate, in pixels, for what is written beside it. */
export interface Margins {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** Which part of the drawing is seen, and how large. */
export class Camera {
  /** Of the pixel: mm. */
  unit = 1;
  private centre: Xy = [0, 0];
  private wide = 1;
  private high = 1;
  private plate: Rect = { x: 0, y: 0, width: 1, height: 1 };
  private margins: Margins = { left: 0, right: 0, top: 0, bottom: 0 };

  get size(): Xy {
    return [this.wide, this.high];
  }

  get middle(): Xy {
    return this.centre;
  }

  get viewBox(): string {
    const [x, y] = this.toMm([0, 0]);
    return [x, y, this.wide * this.unit, this.high * this.unit].map((value) => value.toFixed(4)).join(" ");
  }

  /** What is seen, mm. */
  get seen(): Rect {
    const [x, y] = this.toMm([0, 0]);
    return { x, y, width: this.wide * this.unit, height: this.high * this.unit };
  }

  /** Whether no part of the plate lies beside what is seen. */
  get seesPlate(): boolean {
    return this.wayInto(this.plate).every((way) => Math.abs(way) < 0.5);
  }

  /** By how many pixels the drawing is to be moved so that a rectangle of it comes into sight. */
  wayInto(rect: Rect): Xy {
    const { seen, unit } = this;
    const dx = Math.min(0, rect.x - seen.x) + Math.max(0, rect.x + rect.width - seen.x - seen.width);
    const dy = Math.min(0, rect.y - seen.y) + Math.max(0, rect.y + rect.height - seen.y - seen.height);
    return [-dx / unit, -dy / unit];
  }

  /** A place in the stage in pixels, as mm of the drawing. */
  toMm([px, py]: Xy): Xy {
    return [this.centre[0] + (px - this.wide / 2) * this.unit, this.centre[1] + (py - this.high / 2) * this.unit];
  }

  setStage(wide: number, high: number): void {
    this.wide = Math.max(wide, 1);
    this.high = Math.max(high, 1);
  }

  /** Puts a place of the drawing into the upper left corner of the stage, mm. */
  setCorner([x, y]: Xy): void {
    this.centre = [x + (this.wide / 2) * this.unit, y + (this.high / 2) * this.unit];
  }

  setPlate(plate: Rect, margins: Margins): void {
    this.plate = plate;
    this.margins = margins;
  }

  showWhole(): void {
    [this.unit, this.centre] = this.whole();
  }

  /** Zooms by a factor (over 1: nearer) so that what is under a place of the stage stays there. */
  zoom(factor: number, about: Xy = [this.wide / 2, this.high / 2]): void {
    const fixed = this.toMm(about);
    const [whole] = this.whole();
    this.unit = clamp(this.unit / factor, 1 / MOST_PX_PER_MM, whole / LEAST_SHARE);
    const now = this.toMm(about);
    this.moveTo([this.centre[0] + fixed[0] - now[0], this.centre[1] + fixed[1] - now[1]]);
  }

  /** Moves the drawing by pixels. */
  pan(dx: number, dy: number): void {
    this.moveTo([this.centre[0] - dx * this.unit, this.centre[1] - dy * this.unit]);
  }

  /** Brings a place into the middle, with at least so many pixels to the mm. */
  flyTo(place: Xy, pxPerMm: number): void {
    this.unit = Math.min(this.unit, 1 / pxPerMm);
    this.moveTo(place);
  }

  /** The plate never leaves the stage whole. */
  private moveTo([x, y]: Xy): void {
    const { plate } = this;
    this.centre = [clamp(x, plate.x, plate.x + plate.width), clamp(y, plate.y, plate.y + plate.height)];
  }

  private whole(): [number, Xy] {
    const { plate, margins } = this;
    const wide = Math.max(this.wide - margins.left - margins.right, this.wide / 3);
    const high = Math.max(this.high - margins.top - margins.bottom, this.high / 3);
    const unit = Math.max(plate.width / wide, plate.height / high);
    return [
      unit,
      [
        plate.x + plate.width / 2 + ((margins.right - margins.left) / 2) * unit,
        plate.y + plate.height / 2 + ((margins.bottom - margins.top) / 2) * unit,
      ],
    ];
  }
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(Math.max(value, low), high);
}
