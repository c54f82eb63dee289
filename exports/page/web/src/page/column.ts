import { make } from "./elements";

/** A panel of the column, and what its tab is called. */
export interface Sheet {
  id: string;
  title: string;
  content: HTMLElement;
}

/** The column beside the plan: one of its sheets at a time, chosen by tabs. */
export class Column {
  readonly element: HTMLElement;
  private readonly tabs = new Map<string, { tab: HTMLButtonElement; panel: HTMLElement; badge: HTMLElement }>();
  private chosen = "";

  constructor(sheets: Sheet[]) {
    const list = make("div", { role: "tablist", "aria-label": "Beside the plan", class: "tabs" });
    list.addEventListener("keydown", (event) => this.step(event));
    this.element = make("section", { class: "column", "aria-label": "Beside the plan" }, list);
    for (const { id, title, content } of sheets) {
      const badge = make("span", { class: "badge" });
      const tab = make("button", { type: "button", role: "tab", id: `${id}-tab`, "aria-controls": id }, title, badge);
      tab.addEventListener("click", () => this.choose(id));
      const heading = make("h2", { id: `${id}-title`, tabindex: "-1" }, title);
      const panel = make("div", { role: "tabpanel", id, "aria-labelledby": `${id}-tab`, class: "sheet" });
      panel.append(heading, content);
      this.tabs.set(id, { tab, panel, badge });
      list.append(tab);
      this.element.append(panel);
    }
    this.choose(sheets[0]!.id);
  }

  get shown(): string {
    return this.chosen;
  }

  choose(id: string): void {
    this.chosen = id;
    for (const [name, { tab, panel }] of this.tabs) {
      const on = name === id;
      tab.setAttribute("aria-selected", String(on));
      tab.tabIndex = on ? 0 : -1;
      panel.hidden = !on;
    }
  }

  /** Puts a few words beside a tab's title. */
  mark(id: string, words: string): void {
    const { badge } = this.tabs.get(id)!;
    const text = words && ` ${words}`;
    if (badge.textContent !== text) badge.textContent = text;
  }

  private step(event: KeyboardEvent): void {
    const ids = [...this.tabs.keys()];
    const at = ids.indexOf(this.chosen);
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: ids.length - 1 }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    const id = ids[(to + ids.length) % ids.length]!;
    this.choose(id);
    this.tabs.get(id)!.tab.focus();
  }
}
