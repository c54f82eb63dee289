import { draw } from "../elements";
import type { ClearDoc, PlanDoc, PortDoc, Xy } from "../messages";
import type { Obstacle, Wanted } from "./labels";
import { flip, isEdge, rectAround, rectOf, wayOut, type EdgeName } from "./panel_frame";
import { pumpRadius, type Thing } from "./things";

/** How far a fitting's collar stands out of an edge in the drawing, mm. */
const COLLAR_OUT_MM = 3;
/** How deep the room for the spanner is drawn beside an edge, mm. */
const SPANNER_OUT_MM = 14;
/** From the foot of a pin to the middle of its head, pixels. */
const PIN_HEAD_PX: Xy = [7, -8.4];
const SIDES: Record<EdgeName, Wanted["first"]> = { left: "left", right: "right", top: "above", bottom: "below" };

/** The tank's pocket with its coolant, posts and name. */
export function drawTank(plan: PlanDoc): Node[] {
  const { tank } = plan;
  if (!tank.box) {
    const [cx, cy] = flip(plan, tank.outlet);
    return [draw("circle", { class: "tank-outlet", cx, cy, r: 5 })];
  }
  const rect = { ...rectOf(plan, tank.box), rx: tank.corner_radius };
  return [
    draw("rect", { class: "pocket", ...rect }),
    draw("rect", { class: "coolant", ...rect, fill: "url(#plan-coolant)" }),
    ...tank.posts.map((post) => {
      const [cx, cy] = flip(plan, post);
      return draw("circle", { class: "post", cx, cy, r: tank.post_diameter / 2 });
    }),
  ];
}

/** The pump's seat and what it takes: below the channels. */
export function drawSeat(plan: PlanDoc): Node[] {
  const { pump } = plan;
  const [cx, cy] = flip(plan, pump.inlet);
  return [
    draw("circle", { class: "reach", cx, cy, r: pump.reach }),
    draw("circle", { class: `seat${pump.on === "back" ? " behind" : ""}`, cx, cy, r: pumpRadius(pump) }),
  ];
}

/** The pump's bores and screws, and which way it is turned: above the channels. */
export function drawPump(plan: PlanDoc): Node[] {
  const { pump } = plan;
  const [x, y] = flip(plan, pump.inlet);
  const [ox, oy] = flip(plan, pump.outlet);
  const far = Math.hypot(ox - x, oy - y) || 1;
  const [ux, uy] = [(ox - x) / far, (oy - y) / far];
  const from = pump.inlet_radius + 1.5;
  const to = Math.max(far - pump.outlet_radius - 1.5, from + 1);
  const at = (along: number, aside = 0): string =>
    `${(x + along * ux - aside * uy).toFixed(2)} ${(y + along * uy + aside * ux).toFixed(2)}`;
  return [
    ...pump.screws.map((screw) => drawScrew(flip(plan, screw), 2.2)),
    draw("circle", { class: "bore", cx: x, cy: y, r: pump.inlet_radius }),
    draw("circle", { class: "bore", cx: ox, cy: oy, r: pump.outlet_radius }),
    draw("path", { class: "turn", d: `M${at(from)}L${at(to)}M${at(to - 3, 2)}L${at(to)}L${at(to - 3, -2)}` }),
  ];
}

export function drawScrew([x, y]: Xy, radius: number): Node {
  const arm = radius * 1.5;
  return draw("path", {
    class: "screw",
    d:
      `M${x - radius} ${y}a${radius} ${radius} 0 1 0 ${2 * radius} 0a${radius} ${radius} 0 1 0 ${-2 * radius} 0` +
      `M${x - arm} ${y}H${x + arm}M${x} ${y - arm}V${y + arm}`,
  });
}

/** What lies below the ports: bores from the edges. */
export function drawEdgeBores(plan: PlanDoc): Node[] {
  return plan.ports
    .filter((port) => isEdge(port.on))
    .map((port) => {
      const [x, y] = flip(plan, port.at);
      const [fx, fy] = flip(plan, port.foot);
      const r = port.bore_radius;
      return draw("rect", {
        class: "edge-bore",
        x: Math.min(x, fx) - (x === fx ? r : 0),
        y: Math.min(y, fy) - (y === fy ? r : 0),
        width: Math.abs(x - fx) || 2 * r,
        height: Math.abs(y - fy) || 2 * r,
      });
    });
}

/** A port with the sign of its flow: a dot where coolant comes towards the viewer, a cross where it goes away. */
export function drawPort(plan: PlanDoc, port: PortDoc): Node {
  const [x, y] = flip(plan, port.at);
  const { collar_radius: collar, bore_radius: bore } = port;
  const group = draw("g", { class: `port role-${/^[a-z]+$/.test(port.role) ? port.role : "other"}` });
  // A part's inlet is where coolant leaves the panel.
  const leaves = port.role === "inlet";
  if (isEdge(port.on)) {
    const [ux, uy] = wayOut(port.on);
    const at = (along: number, aside: number): string =>
      `${(x + along * ux - aside * uy).toFixed(2)} ${(y + along * uy + aside * ux).toFixed(2)}`;
    group.append(
      draw("path", {
        class: "collar",
        d: `M${at(0, -collar)}L${at(COLLAR_OUT_MM, -collar)}L${at(COLLAR_OUT_MM, collar)}L${at(0, collar)}Z`,
      }),
    );
    if (leaves || port.role === "outlet") {
      const [tip, tail] = leaves ? [COLLAR_OUT_MM + 8, COLLAR_OUT_MM + 2] : [COLLAR_OUT_MM + 2, COLLAR_OUT_MM + 8];
      group.append(draw("path", { class: "role-sign", d: `M${at(tip, 0)}L${at(tail, 3.4)}L${at(tail, -3.4)}Z` }));
    }
    return group;
  }
  group.append(
    draw("circle", { class: `collar${port.on === "back" ? " behind" : ""}`, cx: x, cy: y, r: collar }),
    draw("circle", { class: "bore", cx: x, cy: y, r: bore }),
  );
  const arm = bore * 0.62;
  if (leaves) group.append(draw("circle", { class: "role-sign", cx: x, cy: y, r: bore * 0.32 }));
  else if (port.role === "outlet") {
    group.append(
      draw("path", {
        class: "role-cross",
        d: `M${x - arm} ${y - arm}l${2 * arm} ${2 * arm}M${x + arm} ${y - arm}l${-2 * arm} ${2 * arm}`,
      }),
    );
  } else {
    // Closed by a plug with its socket.
    const side = bore * 0.5;
    const [half, rise] = [side / 2, 0.87 * side];
    group.append(
      draw("path", {
        class: "plug",
        d: `M${x - side} ${y}l${half} ${-rise}h${side}l${half} ${rise}l${-half} ${rise}h${-side}z`,
      }),
    );
  }
  return group;
}

/** The room that a spanner needs about a port. */
export function drawSpanner(plan: PlanDoc, port: PortDoc): Node {
  const [x, y] = flip(plan, port.at);
  const r = port.spanner_radius;
  if (!isEdge(port.on)) return draw("circle", { class: "spanner", cx: x, cy: y, r });
  const [ux, uy] = wayOut(port.on);
  const far: Xy = [x + ux * SPANNER_OUT_MM, y + uy * SPANNER_OUT_MM];
  return draw("rect", {
    class: "spanner",
    x: Math.min(x, far[0]) - (ux ? 0 : r),
    y: Math.min(y, far[1]) - (uy ? 0 : r),
    width: ux ? SPANNER_OUT_MM : 2 * r,
    height: uy ? SPANNER_OUT_MM : 2 * r,
  });
}

export function drawClear(plan: PlanDoc, clear: ClearDoc): Node[] {
  const rect = { ...rectOf(plan, clear.box) };
  return [
    draw("rect", { class: "clear-ground", ...rect }),
    draw("rect", { class: "clear", ...rect, fill: "url(#plan-hatch)" }),
  ];
}

/** The place where a pin is drawn, in the drawing; null where a thing is not pinned. */
export function pinPlace(plan: PlanDoc, thing: Thing): Xy | null {
  if (thing.kind === "channel" || thing.kind === "clear" || !thing.of.pinned) return null;
  if (thing.kind === "tank") {
    const rect = thing.of.box && rectOf(plan, thing.of.box);
    return rect ? [rect.x + rect.width - 4, rect.y + 4] : flip(plan, thing.of.outlet);
  }
  if (thing.kind === "pump") {
    const [x, y] = flip(plan, thing.of.inlet);
    const out = pumpRadius(thing.of) * 0.71;
    return [x + out, y - out];
  }
  const [x, y] = flip(plan, thing.of.at);
  return [x + thing.of.collar_radius * 0.71, y - thing.of.collar_radius * 0.71];
}

/** A pin of a drawing board, of one size on the screen. */
export function drawPin([x, y]: Xy): Node {
  return draw(
    "g",
    { class: "pin", transform: `translate(${x} ${y})` },
    draw(
      "g",
      { class: "of-one-size" },
      draw("path", { class: "pin-needle", d: "M0 0L5-6" }),
      draw("circle", { class: "pin-head", cx: PIN_HEAD_PX[0], cy: PIN_HEAD_PX[1], r: 3.7 }),
    ),
  );
}

/** Names of ports, tank, pump and boxes, as they want to stand. */
export function wantNames(plan: PlanDoc, must: Set<string>, unit: number): Wanted[] {
  const headOf = (thing: Thing): Xy | null => {
    const foot = pinPlace(plan, thing);
    return foot && [foot[0] + PIN_HEAD_PX[0] * unit, foot[1] + PIN_HEAD_PX[1] * unit];
  };
  const ports = plan.ports.map((port): Wanted => {
    const [x, y] = flip(plan, port.at);
    const edge = isEdge(port.on) ? port.on : null;
    const out = edge ? wayOut(edge) : ([0, 0] as Xy);
    const role = port.role === "inlet" || port.role === "outlet";
    return {
      id: port.id,
      // "processor block" / "inlet" where the name says just that.
      lines: role && port.name === `${port.part} ${port.role}` ? [port.part, port.role] : [port.name],
      at: edge ? [x + 5 * out[0], y + 5 * out[1]] : [x, y],
      radius: edge ? (role ? 6.5 : 1) : port.collar_radius,
      pin: headOf({ kind: "port", id: port.id, of: port }),
      first: edge ? SIDES[edge] : "right",
      must: must.has(port.id),
      keep: true,
    };
  });
  const { tank, pump } = plan;
  const tankAt: Xy = tank.box ? [tank.box[0], tank.box[3]] : tank.outlet;
  return [
    ...ports,
    ...plan.clears.map((clear): Wanted => {
      const rect = rectOf(plan, clear.box);
      const at: Xy = [rect.x + rect.width / 2, rect.y + rect.height / 2];
      return {
        id: clear.id,
        lines: [clear.name || "keep clear"],
        at,
        radius: rect.width / 2,
        pin: null,
        first: "right",
        must: must.has(clear.id),
        keep: false,
      };
    }),
    {
      id: "pump",
      lines: ["pump"],
      at: flip(plan, [pump.inlet[0], pump.inlet[1]]),
      radius: pump.inlet_radius + 2,
      pin: headOf({ kind: "pump", id: "pump", of: pump }),
      first: "right",
      must: must.has("pump"),
      keep: false,
    },
    ...(tank.box
      ? []
      : [
          {
            id: "tank",
            lines: ["to the tank"],
            at: flip(plan, tankAt),
            radius: 6,
            pin: null,
            first: "right",
            must: true,
            keep: true,
          } as Wanted,
        ]),
  ];
}

/** What names should not cover; of the plate its edge, which would strike them through. */
export function obstaclesOf(plan: PlanDoc, unit: number): Obstacle[] {
  const { pump, tank, width, height } = plan;
  const thick = 5 * unit;
  const [wide, high] = [width + thick, height + thick];
  return [
    ...[0, width].map((x) => ({ rect: { x: x - thick / 2, y: -thick / 2, width: thick, height: high }, weight: 1.5 })),
    ...[0, height].map((y) => ({ rect: { x: -thick / 2, y: y - thick / 2, width: wide, height: thick }, weight: 1.5 })),
    ...plan.ports.map((port): Obstacle => ({ rect: rectAround(flip(plan, port.at), port.collar_radius), weight: 2 })),
    ...plan.ports
      .filter((port) => isEdge(port.on))
      .map((port): Obstacle => {
        const [x, y] = flip(plan, port.at);
        const [fx, fy] = flip(plan, port.foot);
        const r = port.bore_radius;
        return {
          rect: {
            x: Math.min(x, fx) - (x === fx ? r : 0),
            y: Math.min(y, fy) - (y === fy ? r : 0),
            width: Math.abs(x - fx) || 2 * r,
            height: Math.abs(y - fy) || 2 * r,
          },
          weight: 1,
        };
      }),
    ...plan.clears.map((clear): Obstacle => ({ rect: rectOf(plan, clear.box), weight: 1 })),
    ...(tank.box ? [{ rect: rectOf(plan, tank.box), weight: 0.3 }] : []),
    { rect: rectAround(flip(plan, pump.outlet), pump.outlet_radius), weight: 2 },
    { rect: rectAround(flip(plan, pump.inlet), pump.inlet_radius), weight: 2 },
    ...pump.screws.map((screw): Obstacle => ({ rect: rectAround(flip(plan, screw), 3), weight: 0.5 })),
  ];
}
