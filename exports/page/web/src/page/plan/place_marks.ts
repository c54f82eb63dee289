import type { FindingDoc, PlanDoc, Xy } from "../messages";
import type { Obstacle } from "./labels";
import { areaShared, flip, rectAround, type Rect } from "./panel_frame";

/** Between marks of findings at one place, in pixels. */
const STEP_PX = 23;
/** How far across and up a mark stands off its place, and half of what it covers, in pixels. */
const OFF_PX = 17;
const HALF_PX = 13;
/** Up and to the right first, as on every plan; elsewhere where it then covers less. */
const WAYS: Xy[] = [
  [1, -1],
  [-1, -1],
  [1, 1],
  [-1, 1],
];
const OTHER_WAY = 0.15;
/** How bad it is to cover another mark. */
const MARK_WEIGHT = 4;

/** A mark that tells a finding's number beside its place. */
export interface Mark {
  finding: FindingDoc;
  at: Xy;
  /** Where its sign stands from its place, pixels: those at one place stand side by side. */
  off: Xy;
  /** What that sign covers. */
  rect: Rect;
}

/** Puts the marks of the findings that have a place where they cover least of what is to be read. */
export function placeMarks(plan: PlanDoc, findings: FindingDoc[], obstacles: Obstacle[], unit: number): Mark[] {
  const marks: Mark[] = [];
  for (const group of groupsOf(plan, findings, unit)) {
    const [best] = WAYS.map((way, k) => {
      const put = group.map(({ finding, at }, aside) => putMark(finding, at, way, aside, unit));
      return { put, cost: (k ? OTHER_WAY : 0) + costOf(put, marks, obstacles) };
    }).sort((a, b) => a.cost - b.cost);
    marks.push(...best!.put);
  }
  return marks.sort((a, b) => a.finding.number - b.finding.number);
}

/** Findings whose marks would cover each other; the order is theirs. */
function groupsOf(plan: PlanDoc, findings: FindingDoc[], unit: number): { finding: FindingDoc; at: Xy }[][] {
  const groups = new Map<string, { finding: FindingDoc; at: Xy }[]>();
  for (const finding of findings) {
    if (!finding.at) continue;
    const at = flip(plan, [finding.at[0], finding.at[1]]);
    const cell = at.map((length) => Math.round(length / (STEP_PX * unit))).join(" ");
    groups.set(cell, [...(groups.get(cell) ?? []), { finding, at }]);
  }
  return [...groups.values()];
}

function putMark(finding: FindingDoc, at: Xy, [across, down]: Xy, aside: number, unit: number): Mark {
  const off: Xy = [across * (OFF_PX + STEP_PX * aside), down * OFF_PX];
  return { finding, at, off, rect: rectAround([at[0] + off[0] * unit, at[1] + off[1] * unit], HALF_PX * unit) };
}

/** What the marks of one place cover, in shares of a mark by weight. */
function costOf(put: Mark[], others: Mark[], obstacles: Obstacle[]): number {
  const area = put[0]!.rect.width * put[0]!.rect.height;
  let cost = 0;
  for (const { rect } of put) {
    for (const one of obstacles) cost += (one.weight * areaShared(rect, one.rect)) / area;
    for (const other of others) cost += (MARK_WEIGHT * areaShared(rect, other.rect)) / area;
  }
  return cost;
}
