import type { PlanDoc, PlanTold, ProblemDoc } from "../messages";

/** What is told where things are drawn without routes. */
export const UNROUTED =
  "Nothing is routed: things stand where the file puts them, free ones where they last stood, else in the middle of " +
  "their boxes. All of them can be moved.";

/**
 * What is drawn where there is no layout: things as the file has them, with the routes of the last plan where that is
 * of the same things, else without any. Null where nothing is known of things, as with errors of the file.
 */
export function groundOf(last: PlanTold | null, { plan }: ProblemDoc): PlanTold | null {
  if (!plan) return null;
  if (!last || !isOfSameThings(last.plan, plan)) return { plan, numbers: [], findings: [], proof: "", whole: false };
  const placed = new Map(plan.ports.map((port) => [port.id, port]));
  const { tank } = last.plan;
  // Posts stand in the tank where it was.
  const posts = String(tank.box) === String(plan.tank.box) ? tank.posts : [];
  return {
    ...last,
    plan: {
      ...last.plan,
      name: plan.name,
      corner_radius: plan.corner_radius,
      pitch: plan.pitch,
      ports: last.plan.ports.map((port) => placed.get(port.id) ?? port),
      tank: { ...plan.tank, posts, post_diameter: tank.post_diameter },
      pump: plan.pump,
      clears: plan.clears,
    },
  };
}

/** Whether a plan is one of things alone. */
export function isUnrouted(plan: PlanDoc): boolean {
  return plan.channels.length === 0;
}

function isOfSameThings(a: PlanDoc, b: PlanDoc): boolean {
  return tellThings(a) === tellThings(b);
}

/** Size of the panel, and its things as the file names them: a port that the plan adds is not of the file. */
function tellThings({ width, height, tank, ports, clears }: PlanDoc): string {
  const own = ports.flatMap(({ id, key, on, part }) => (key ? [`${id} ${on} ${part}`] : []));
  return JSON.stringify([width, height, tank.kind, own.sort(), clears.map(({ id, name }) => `${id} ${name}`)]);
}
