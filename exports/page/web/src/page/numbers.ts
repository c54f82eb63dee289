import type { Actions, Region } from "./actions";
import { button, make, tell } from "./elements";
import { tellFixed, tellNumber } from "./figures";
import type { ChannelDoc, NumberDoc } from "./messages";
import { comparedPlan, shownPlan, shownProblem, type State } from "./state";

const COLUMNS: [string, string, (channel: ChannelDoc) => string][] = [
  ["flow", "L/min", ({ told }) => signed(told.flow)],
  ["velocity", "m/s", ({ told }) => signed(told.velocity)],
  ["drop", "kPa", ({ told }) => signed(told.drop)],
  ["length", "mm", (channel) => tellFixed(channel.length_mm, 0)],
  ["width", "mm", (channel) => tellNumber(channel.width)],
];

/** A number of the server's words, with a true minus sign. */
function signed(told: string): string {
  return told.replace(/^-(?=\d)/, "−");
}

/** A value without its band: what differs in that alone is no other number. */
function withoutBand(value: string): string {
  return value.replace(/ ±[\d.]+ %$/, "");
}

/** A key number as it stands on the page. */
interface NumberLine {
  row: HTMLElement;
  title: HTMLElement;
  now: HTMLElement;
  old: HTMLElement;
  said: HTMLElement;
}

/** A channel as it stands in the table. */
interface ChannelRow {
  row: HTMLTableRowElement;
  name: HTMLButtonElement;
  cells: { cell: HTMLElement; now: HTMLElement; old: HTMLElement }[];
}

/** Key numbers and the channels' figures; what a change changed is marked, with what it was. */
export class Numbers implements Region {
  readonly element: HTMLElement;
  /** Where the numbers of the selected thing go. */
  readonly form = make("div", { class: "thing-form" });
  private readonly list = make("dl", { class: "numbers" });
  private readonly body = make("tbody");
  private readonly lines: NumberLine[] = [];
  private readonly rows: ChannelRow[] = [];
  private readonly empty = make("p", { class: "soft" }, "There is no plan yet.");
  private readonly older = make("p", { class: "soft", hidden: true }, "These are of the plan before.");
  private readonly table: HTMLElement;

  constructor(private readonly actions: Actions) {
    const head = COLUMNS.map(([word, unit]) => make("th", { scope: "col", class: "number" }, `${word} [${unit}]`));
    this.table = make(
      "div",
      { class: "wide", tabindex: "0", role: "region", "aria-label": "Channels, scrolls sideways" },
      make(
        "table",
        {},
        make("caption", {}, "Channels"),
        make("thead", {}, make("tr", {}, make("th", { scope: "col" }, "channel"), ...head)),
        this.body,
      ),
    );
    this.element = make("div", {}, this.form, this.empty, this.older, this.list, this.table);
  }

  show(state: State, before: State): void {
    const plan = shownPlan(state);
    const compared = comparedPlan(state);
    this.empty.hidden = plan !== null;
    this.table.hidden = plan === null;
    const older = plan !== null && shownProblem(state) !== null;
    this.older.hidden = !older;
    for (const element of [this.list, this.table]) element.classList.toggle("older", older);
    if (plan !== shownPlan(before) || compared !== comparedPlan(before)) {
      this.showNumbers(plan?.numbers ?? [], compared?.numbers ?? []);
      this.showChannels(plan?.plan.channels ?? [], compared?.plan.channels ?? []);
    }
    for (const { row, name } of this.rows) {
      const selected = row.dataset.thing === state.selected;
      row.classList.toggle("selected", selected);
      name.setAttribute("aria-pressed", String(selected));
    }
  }

  private showNumbers(numbers: NumberDoc[], compared: NumberDoc[]): void {
    const was = new Map(compared.map(({ name, value }) => [name, value]));
    for (const { row } of this.lines.splice(numbers.length)) row.remove();
    numbers.forEach(({ name, value, more }, k) => {
      const { row, title, now, old, said } = (this.lines[k] ??= this.addLine());
      const before = was.get(name);
      const changed = before !== undefined && withoutBand(before) !== withoutBand(value);
      tell(title, name);
      tell(now, value);
      tell(old, changed ? `was ${before}` : "");
      tell(said, more);
      row.classList.toggle("changed", changed);
    });
  }

  private showChannels(channels: ChannelDoc[], compared: ChannelDoc[]): void {
    const was = new Map(compared.map((channel) => [channel.id, channel]));
    for (const { row } of this.rows.splice(channels.length)) row.remove();
    channels.forEach((channel, k) => {
      const { row, name, cells } = (this.rows[k] ??= this.addRow());
      row.dataset.thing = channel.id;
      tell(name, channel.name);
      const before = was.get(channel.id);
      COLUMNS.forEach(([, , read], column) => {
        const { cell, now, old } = cells[column]!;
        const changed = before !== undefined && read(before) !== read(channel);
        tell(now, read(channel));
        tell(old, changed ? `was ${read(before)}` : "");
        cell.classList.toggle("changed", changed);
      });
    });
  }

  private addLine(): NumberLine {
    const [title, now] = [make("dt"), make("b")];
    const [old, said] = [make("i", { class: "was" }), make("span", { class: "soft" })];
    const row = make("div", {}, title, make("dd", {}, now, old, said));
    this.list.append(row);
    return { row, title, now, old, said };
  }

  private addRow(): ChannelRow {
    const row = make("tr");
    const name = button("", () => this.actions.select(row.dataset.thing ?? null), { class: "thing" });
    const cells = COLUMNS.map(() => {
      const [now, old] = [make("span"), make("i", { class: "was" })];
      return { cell: make("td", { class: "number" }, now, old), now, old };
    });
    row.append(make("th", { scope: "row" }, name), ...cells.map(({ cell }) => cell));
    this.body.append(row);
    return { row, name, cells };
  }
}
