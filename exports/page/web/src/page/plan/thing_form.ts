import { button, make } from "../elements";
import { tellNumber } from "../figures";
import type { Box, Gesture, PlanDoc, ThingId, Xy } from "../messages";
import { freeSpot } from "./free_spot";
import { makeNumberField, type NumberField, type NumberRange } from "./fields";
import { isEdge } from "./panel_frame";
import { snap } from "./snap";
import {
  axisOf,
  boxSize,
  findThing,
  isMovable,
  nameOf,
  placeOf,
  tell,
  tellBox,
  tellPlace,
  type Thing,
} from "./things";

export interface ThingFormHooks {
  /** Makes edits for good; `said` tells them in words. */
  edit(edits: Gesture[], said: string): void;
  /** Escape in the form: put the focus back on the thing in the plan. */
  leave(id: ThingId): void;
  /** About where a new keep-clear box goes: `PlanView.middle`. */
  middle(): Xy;
  /** Selects a thing, which may come with the next plan. */
  select(id: ThingId): void;
  /** Whether the file has a layout: else things are drawn where they could stand, which the file's server knows not. */
  routed(): boolean;
  say(text: string): void;
}

/** The numbers of the selected thing. */
export interface ThingForm {
  /** Shows a thing of a plan; null: none is selected. What is being typed stays. */
  show(plan: PlanDoc | null, id: ThingId | null): void;
  focus(): void;
  dispose(): void;
}

/** A new keep-clear box is so many grid cells wide and high. */
const NEW_BOX_CELLS = 4;
/** From the tank to the pump: as wide as the bore at its end. */
const FEED = "channel:feed";
const QUARTERS = [0, 90, 180, 270];

/** Fields of the form: which of them there are depends on the thing alone. */
interface Fields {
  id: ThingId | null;
  key: string;
  x: NumberField | null;
  y: NumberField | null;
  wide: NumberField | null;
  high: NumberField | null;
  width: NumberField | null;
  turn: HTMLSelectElement | null;
  /** Whether another turn was chosen by hand, and is neither made an edit nor given up. */
  turned: boolean;
  /** The plan's turn when it was last shown. */
  turnShown: number | null;
  title: HTMLElement;
  facts: HTMLElement;
}

/** Makes the form of the selected thing inside an element. */
export function createThingForm(element: HTMLElement, hooks: ThingFormHooks): ThingForm {
  const form = make("form", { class: "thing-form" });
  form.noValidate = true;
  form.setAttribute("aria-label", "numbers of what is selected");
  element.append(form);
  let plan: PlanDoc | null = null;
  let thing: Thing | null = null;
  let fields: Fields | null = null;

  const commit = (): void => {
    if (!plan || !thing || !fields) return;
    const made = editsOf(plan, thing, fields);
    if (!made) return;
    for (const field of numbersOf(fields)) field.commit();
    fields.turned = false;
    hooks.edit(made.edits, made.said);
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    commit();
  });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !thing) return;
    event.preventDefault();
    event.stopPropagation();
    const { id } = thing;
    // What was typed is given up.
    (document.activeElement as HTMLElement | null)?.blur();
    if (fields) {
      for (const field of numbersOf(fields)) field.giveUp();
      fields.turned = false;
      fields.turnShown = null;
      fill(fields, thing);
    }
    hooks.leave(id);
  });

  const build = (now: PlanDoc, of: Thing | null, key: string): Fields => {
    const title = make("h3", {});
    const facts = make("p", { class: "thing-facts" });
    const none = { x: null, y: null, wide: null, high: null, width: null, turn: null, turned: false, turnShown: null };
    const made: Fields = { id: of?.id ?? null, key, ...none, title, facts };
    const parts: Node[] = [title, facts];
    if (of) parts.push(...buildFields(now, of, made));
    const buttons = make("div", { class: "thing-buttons" });
    if (of && (made.x || made.y || made.wide || (made.width && !made.width.input.disabled) || made.turn)) {
      const set = make("button", {}, "Set these");
      set.type = "submit";
      buttons.append(set);
    }
    if (of) {
      const act = (k: number): void => {
        // As it stands when the button is pressed.
        const [, edits, said] = actionsOf(thing ?? of, hooks.routed())[k]!;
        hooks.edit(edits, said);
      };
      buttons.append(...actionsOf(of, true).map(([words], k) => button(words, () => act(k))));
    }
    buttons.append(button("Add a keep-clear box", () => addBox()));
    parts.push(buttons);
    // A button that was pressed is made anew: the keyboard stays in the form.
    const within = form.contains(document.activeElement);
    form.replaceChildren(...parts);
    if (within) form.querySelector<HTMLElement>("input, select, button")?.focus();
    return made;
  };

  const addBox = (): void => {
    if (!plan) return;
    const { clears } = plan;
    const side = NEW_BOX_CELLS * plan.pitch;
    const [mx, my] = hooks.middle();
    const [x, y] = freeSpot(plan, [mx - side / 2, my - side / 2], side);
    const names = new Set(clears.map((clear) => clear.name));
    let number = clears.length + 1;
    while (names.has(`keep clear ${number}`)) number++;
    const box: Box = [x, y, x + side, y + side];
    const name = `keep clear ${number}`;
    hooks.edit([{ add: "clear", box, name }], `add keep-clear box ${name}, ${tellBox(box)}`);
    // It comes last of all.
    hooks.select(`clear:${clears.length}`);
  };

  return {
    show(now, id) {
      plan = now;
      thing = findThing(now, id);
      const key = now ? `${now.width} ${now.height} ${now.pitch} ${thing ? keyOf(thing) : ""}` : "";
      if (!now) {
        form.replaceChildren();
        fields = null;
        return;
      }
      if (fields?.key !== key) {
        const before = fields;
        fields = build(now, thing, key);
        if (before && thing && before.id === thing.id) carryTyped(before, fields);
      }
      fill(fields, thing);
    },
    focus() {
      const first = form.querySelector<HTMLElement>("input, select, button");
      first?.focus();
      if (first instanceof HTMLInputElement) first.select();
    },
    dispose() {
      form.remove();
    },
  };
}

/** What decides which fields and buttons there are. */
function keyOf(thing: Thing): string {
  if (thing.kind === "channel") return `${thing.id} ${thing.of.own_width} ${thing.of.kept}`;
  if (thing.kind === "clear") return `${thing.id} ${boxSize(thing.of.box).join()}`;
  const own =
    thing.kind === "port" ? thing.of.on : thing.kind === "tank" ? boxSize(thing.of.box ?? [0, 0, 0, 0]).join() : "";
  return `${thing.id} ${thing.of.pinned} ${thing.of.movable} ${own}`;
}

function buildFields(plan: PlanDoc, thing: Thing, made: Fields): Node[] {
  const { pitch: step } = plan;
  const out: Node[] = [];
  const group = (legend: string, ...nodes: Node[]): void => {
    out.push(make("fieldset", {}, make("legend", {}, legend), ...nodes));
  };
  if (thing.kind === "channel") {
    made.width = makeNumberField("width", { least: 0.5, most: 100, step: 0.5 });
    if (thing.id === FEED) made.width.lock("The feed takes its width from the pump's inlet bore, in the file's text.");
    group("Channel", made.width.element);
    return out;
  }
  if (isMovable(thing)) {
    const [wide, high] = boxOf(thing) ? boxSize(boxOf(thing)!) : [0, 0];
    const along = axisOf(thing);
    const range = (whole: number, own: number): NumberRange => ({ least: 0, most: whole - own, step });
    if (along !== 1) made.x = makeNumberField(along === 0 ? "from the left" : "x", range(plan.width, wide));
    if (along !== 0) made.y = makeNumberField(along === 1 ? "from below" : "y", range(plan.height, high));
    const legend = boxOf(thing)
      ? "Lower left corner"
      : thing.kind === "pump"
        ? "Inlet"
        : along === null
          ? "Place"
          : "Along its edge";
    group(legend, ...[made.x, made.y].flatMap((field) => field?.element ?? []));
  }
  if ((thing.kind === "clear" || thing.kind === "tank") && boxOf(thing)) {
    made.wide = makeNumberField("width", { least: step, most: plan.width, step });
    made.high = makeNumberField("height", { least: step, most: plan.height, step });
    group("Size", made.wide.element, made.high.element);
  }
  if (thing.kind === "pump") {
    const select = make("select");
    select.id = "thing-turn";
    for (const turn of [...new Set([...QUARTERS, ...thing.of.turns])]) {
      const option = make("option", {}, `${turn} deg`);
      option.value = String(turn);
      select.append(option);
    }
    select.addEventListener("change", () => (made.turned = true));
    const label = make("label", {}, "turned");
    label.htmlFor = select.id;
    made.turn = select;
    group("Turn, counter-clockwise", make("div", { class: "thing-field" }, label, select));
  }
  return out;
}

function fill(fields: Fields, thing: Thing | null): void {
  fields.title.textContent = thing ? upperFirst(nameOf(thing)) : "Nothing is selected";
  fields.facts.textContent = thing
    ? factsOf(thing)
    : "Click a port, a channel, the tank, the pump or a keep-clear box in the plan.";
  if (!thing) return;
  const place = placeOf(thing);
  if (place) {
    fields.x?.show(place[0]);
    fields.y?.show(place[1]);
  }
  const box = boxOf(thing);
  if (box) {
    fields.wide?.show(boxSize(box)[0]);
    fields.high?.show(boxSize(box)[1]);
  }
  if (thing.kind === "channel") fields.width?.show(thing.of.width);
  if (thing.kind === "pump" && fields.turn && !fields.turned && thing.of.turn_deg !== fields.turnShown) {
    fields.turn.value = String(thing.of.turn_deg);
    fields.turnShown = thing.of.turn_deg;
  }
}

const NUMBERS = ["x", "y", "wide", "high", "width"] as const;

function numbersOf(fields: Fields): NumberField[] {
  return NUMBERS.flatMap((name) => fields[name] ?? []);
}

/** What was typed into the fields that others replace, of the same thing, stays. */
function carryTyped(from: Fields, to: Fields): void {
  for (const name of NUMBERS) if (from[name]) to[name]?.takeTyped(from[name]);
  if (!from.turned || !from.turn || !to.turn) return;
  to.turn.value = from.turn.value;
  to.turned = true;
}

function factsOf(thing: Thing): string {
  if (thing.kind === "port") {
    const { on, thread, pinned, region, line } = thing.of;
    const told = [`${thread} in the ${on} ${isEdge(on) ? "edge" : "face"}`];
    if (pinned) told.push("pinned");
    else if (region) told.push(`free within ${tellRegion(region)}`);
    if (!isMovable(thing)) told.push("its place follows from others");
    if (line) told.push(`line ${line} of the file`);
    return `${told.join(", ")}.`;
  }
  if (thing.kind === "channel") {
    return `${tell(thing)}. ${thing.of.own_width ? "A width of its own." : "The usual width."}`;
  }
  const line = thing.of.line ? `, line ${thing.of.line} of the file` : "";
  const region =
    thing.kind !== "clear" && !thing.of.pinned && thing.of.region ? `, free within ${tellRegion(thing.of.region)}` : "";
  return `${tell(thing)}${region}${line}.`;
}

function tellRegion(region: number[]): string {
  if (region.length === 2) return `${tellNumber(region[0]!)} to ${tellNumber(region[1]!)} mm along the edge`;
  return `${tellPlace([region[0]!, region[1]!])} to ${tellPlace([region[2]!, region[3]!])}`;
}

/** Buttons: their words, what they do, and how that is told. */
function actionsOf(thing: Thing, routed: boolean): [string, Gesture[], string][] {
  const { id } = thing;
  const name = nameOf(thing);
  if (thing.kind === "clear") return [["Remove this box", [{ remove: id }], `remove ${name}`]];
  if (thing.kind === "channel") {
    const out: [string, Gesture[], string][] = [
      thing.of.kept
        ? ["Let its route be found", [{ let: id }], `let the route of ${name} be found`]
        : ["Keep this route", [{ keep: id }], `keep the route of ${name}`],
    ];
    if (thing.of.own_width)
      out.push(["Use the usual width", [{ width: id, to: null }], `give ${name} the usual width`]);
    return out;
  }
  if (!thing.of.movable) return [];
  if (thing.of.pinned) return [["Let its place be found", [{ free: id }], `let the place of ${name} be found`]];
  const pin: Gesture = routed ? { pin: id } : { move: id, to: placeOf(thing)! };
  return [["Pin it here", [pin], `pin ${name} where it is`]];
}

/** What was written into the fields, as one edit; null where nothing or something that cannot be. */
function editsOf(plan: PlanDoc, thing: Thing, fields: Fields): { edits: Gesture[]; said: string } | null {
  const edits: Gesture[] = [];
  const told: string[] = [];
  const all = numbersOf(fields);
  const values = new Map(all.map((field) => [field, field.read()]));
  const wrong = all.find((field) => values.get(field) === null);
  if (wrong) {
    wrong.input.focus();
    return null;
  }
  const read = (field: NumberField | null, other: number): number => (field ? (values.get(field) ?? other) : other);
  const place = placeOf(thing);
  const box = boxOf(thing);
  if (place) {
    const to: Xy = [read(fields.x, place[0]), read(fields.y, place[1])];
    const moved = Boolean(fields.x?.changed || fields.y?.changed);
    const size: Xy = box ? boxSize(box) : [0, 0];
    const now: Xy = [read(fields.wide, size[0]), read(fields.high, size[1])];
    const sized = Boolean(fields.wide?.changed || fields.high?.changed);
    const over = [to[0] + now[0] > plan.width + 1e-9, to[1] + now[1] > plan.height + 1e-9];
    if (box && over[0])
      return refuse(fields.wide, `it would end ${tellNumber(to[0] + now[0] - plan.width)} mm beside the panel`);
    if (box && over[1])
      return refuse(fields.high, `it would end ${tellNumber(to[1] + now[1] - plan.height)} mm beside the panel`);
    if (sized && thing.kind === "clear") {
      const made: Box = [to[0], to[1], to[0] + now[0], to[1] + now[1]];
      edits.push({ box: thing.id, to: made });
      told.push(`make ${nameOf(thing)} ${tellBox(made)}`);
    } else {
      if (sized) {
        edits.push({ size: "tank", to: now });
        told.push(`make the tank ${tellNumber(now[0])} × ${tellNumber(now[1])} mm`);
      }
      if (moved) {
        const node = nodeFor(plan, thing, to, now);
        edits.push({ move: thing.id, to: node });
        const off = Math.hypot(node[0] - to[0], node[1] - to[1]) > 1e-6;
        told.push(`move ${nameOf(thing)} to ${tellPlace(node)}${off ? ", the nearest node of the grid" : ""}`);
      }
    }
  }
  if (thing.kind === "pump" && fields.turn && Number(fields.turn.value) !== thing.of.turn_deg) {
    edits.push({ turn: "pump", to: Number(fields.turn.value) });
    told.push(`turn the pump to ${fields.turn.value} deg`);
  }
  if (thing.kind === "channel" && fields.width?.changed) {
    const width = read(fields.width, thing.of.width);
    edits.push({ width: thing.id, to: width });
    told.push(`make ${nameOf(thing)} ${tellNumber(width)} mm wide`);
  }
  return edits.length ? { edits, said: told.join(" and ") } : null;
}

/** Where a thing of some size comes to stand that is moved to a place: on the grid, inside the panel. */
function nodeFor(plan: PlanDoc, thing: Thing, to: Xy, size: Xy): Xy {
  const along = axisOf(thing);
  const whole: Xy = [plan.width, plan.height];
  return to.map((value, axis) =>
    along === null || along === axis ? snap(plan.pitch, value, 0, whole[axis]! - size[axis]!) : value,
  ) as Xy;
}

function refuse(field: NumberField | null, why: string): null {
  field?.complain(why);
  field?.input.focus();
  return null;
}

function boxOf(thing: Thing): Box | null {
  return thing.kind === "clear" || thing.kind === "tank" ? thing.of.box : null;
}

function upperFirst(words: string): string {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
