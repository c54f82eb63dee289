import type { Actions, Region } from "./actions";
import { tellChanges } from "./change_words";
import { button, make, tell } from "./elements";
import type { FindingDoc } from "./messages";
import { Problem } from "./problem";
import { drawSign } from "./signs";
import { findingsLeft, shownPlan, shownProblem, shownRevision, type State } from "./state";
import { countFindings, countOf, SEVERITIES, type Severity } from "./verdict";

const TITLES: Record<Severity, string> = { fault: "Faults", caution: "Cautions", note: "Notes" };

/** One finding as it stands in the list; it stays the same element as long as it says the same. */
interface Row {
  element: HTMLLIElement;
  finding: FindingDoc;
  /** As on the plan and on the solid. */
  number: HTMLElement;
}

/** All findings by severity: what, against which limit, what helps; and what helps as an edit. */
export class Findings implements Region {
  readonly element: HTMLElement;
  private readonly problem: Problem;
  private readonly boxes = new Map<Severity, { input: HTMLInputElement; count: HTMLElement }>();
  private readonly groups = new Map<Severity, { element: HTMLElement; title: HTMLElement; list: HTMLUListElement }>();
  private readonly said = make("p", { class: "soft findings-said", role: "status" });
  private readonly partly = make("p", { class: "soft" });
  private readonly filter: HTMLElement;
  private readonly left: { element: HTMLElement; title: HTMLElement; list: HTMLUListElement };
  private rows = new Map<string, Row>();
  /** Of the plan whose findings are listed. */
  private revision = 0;

  constructor(private readonly actions: Actions) {
    this.problem = new Problem(actions);
    this.filter = make("fieldset", { class: "filter" }, make("legend", { class: "unseen" }, "Show"));
    for (const severity of SEVERITIES) {
      const id = `show-${severity}`;
      const input = make("input", { type: "checkbox", id, checked: true, onchange: () => this.sift() });
      const count = make("span");
      this.boxes.set(severity, { input, count });
      this.filter.append(make("label", { for: id }, input, drawSign(severity), count));
      const title = make("span");
      const list = make("ul", { class: "findings", "data-severity": severity });
      const heading = make("h3", {}, title);
      // Notes are many, and seldom what is looked for.
      const element =
        severity === "note"
          ? make("details", { class: "group" }, make("summary", {}, heading), list)
          : make("div", { class: "group" }, heading, list);
      this.groups.set(severity, { element, title, list });
    }
    const [title, list] = [make("h3"), make("ul", { class: "findings" })];
    this.left = { element: make("div", { class: "group left", hidden: true }, title, list), title, list };
    this.element = make(
      "div",
      { class: "findings-all" },
      this.problem.element,
      this.filter,
      this.said,
      this.partly,
      ...[...this.groups.values()].map((group) => group.element),
      this.left.element,
      make(
        "p",
        { class: "soft estimate" },
        "Checks are calculated estimates from what the file says; what no check looks at is not found.",
      ),
    );
    // Without a plan there is no group either.
    this.list([]);
  }

  show(state: State, before: State): void {
    this.problem.show(state);
    this.revision = shownRevision(state);
    const plan = shownPlan(state);
    const left = findingsLeft(state);
    const others = findingsLeft(before);
    if (left.length !== others.length || left.some((each, k) => each !== others[k])) this.listLeft(left);
    if (plan !== shownPlan(before)) this.list(plan?.findings ?? []);
    this.filter.hidden = this.said.hidden = plan === null;
    const whole = plan?.whole ?? true;
    const older = plan && shownProblem(state) ? "These are of the last plan that there was." : "";
    tell(this.partly, older || (whole ? "" : "So far only what needs no cords, no screws and no solid."));
    for (const { element, finding } of this.rows.values()) {
      const mine = state.selected !== null && finding.things.includes(state.selected);
      element.classList.toggle("mine", mine);
      element.querySelector<HTMLElement>(".concerns")!.hidden = !mine;
    }
    for (const edit of this.element.querySelectorAll<HTMLButtonElement>("[data-edit]")) {
      edit.disabled = !state.connected;
    }
  }

  /** Puts the focus on a finding, and shows it where it is folded or filtered away. */
  focus(number: number): void {
    const row = [...this.rows.values()].find(({ finding }) => finding.number === number);
    if (!row) return;
    const box = this.boxes.get(row.finding.severity)!.input;
    if (!box.checked) {
      box.checked = true;
      this.sift();
    }
    const folded = row.element.closest("details.group") as HTMLDetailsElement | null;
    if (folded) folded.open = true;
    row.element.querySelector("button")?.focus();
    row.element.scrollIntoView({ block: "nearest" });
  }

  private list(findings: FindingDoc[]): void {
    const rows = new Map<string, Row>();
    for (const finding of findings) {
      // The number may be another in each plan; the row is known by what it says.
      const { number: _, of: __, ...said } = finding;
      let key = JSON.stringify(said);
      while (rows.has(key)) key += "'";
      const row = this.rows.get(key) ?? {
        element: make("li", { class: "finding" }),
        finding,
        number: make("span", { class: "finding-number" }),
      };
      row.finding = finding;
      if (!row.element.firstChild) this.fill(row);
      tell(row.number, String(finding.number + 1));
      row.element.dataset.number = String(finding.number);
      rows.set(key, row);
    }
    this.rows = rows;
    for (const [severity, { list, element, title }] of this.groups) {
      const wanted = [...rows.values()].filter((row) => row.finding.severity === severity).map((row) => row.element);
      setChildren(list, wanted);
      tell(title, `${TITLES[severity]} (${wanted.length})`);
      element.classList.toggle("empty", wanted.length === 0);
    }
    const counts = countFindings(findings);
    for (const [severity, { count }] of this.boxes) tell(count, countOf(counts[severity], severity));
    this.sift();
  }

  /** Without buttons: they would point at a plan that is shown no more. */
  private listLeft(findings: FindingDoc[]): void {
    tell(this.left.title, `Not looked at again yet (${findings.length})`);
    const items = findings.map(({ severity, text, value, limit }) =>
      make(
        "li",
        { class: "finding", "data-severity": severity },
        make("p", { class: "what" }, ...tellWhat(severity, text)),
        value || limit ? make("p", { class: "against" }, tellAgainst(value, limit)) : "",
      ),
    );
    this.left.list.replaceChildren(...items);
    this.sift();
  }

  private fill(row: Row): void {
    const { finding } = row;
    const { severity, code, text, value, limit, remedy, source, accepted, changes, where } = finding;
    row.element.dataset.code = code;
    const buttons = make("div", { class: "buttons" });
    if (finding.at || finding.things.length) {
      buttons.append(button("show", () => this.actions.showFinding(row.finding), { "aria-label": `show ${text}` }));
    }
    if (changes) {
      const words = tellChanges(changes);
      const edit = { "data-edit": true };
      buttons.append(
        button("try", () => this.actions.tryChanges(changes, words, this.revision), { ...edit, "aria-label": `try ${words}` }),
        button("do it", () => this.actions.edit([{ changes }], words, this.revision), { ...edit, "aria-label": `do it: ${words}` }),
        make("code", { class: "change" }, words),
      );
    }
    row.element.append(
      make("p", { class: "what" }, row.number, " ", ...tellWhat(severity, text)),
      value || limit ? make("p", { class: "against" }, tellAgainst(value, limit)) : "",
      remedy ? make("p", { class: "remedy" }, remedy) : "",
      accepted ? make("p", { class: "remedy" }, `Accepted in the file: ${accepted}`) : "",
      make("p", { class: "concerns soft", hidden: true }, "Concerns what is selected."),
      buttons.childElementCount ? buttons : "",
      make(
        "details",
        { class: "why" },
        make("summary", {}, code),
        where ? make("p", {}, `Where: ${where}`) : "",
        make("p", {}, `Source: ${source}`),
      ),
    );
  }

  private sift(): void {
    const hidden: string[] = [];
    for (const [severity, { input }] of this.boxes) {
      const group = this.groups.get(severity)!;
      group.element.hidden = !input.checked || group.list.childElementCount === 0;
      if (!input.checked) hidden.push(`${severity}s`);
    }
    const left = [...this.left.list.children] as HTMLElement[];
    for (const item of left) item.hidden = !this.boxes.get(item.dataset.severity as Severity)!.input.checked;
    this.left.element.hidden = left.every((item) => item.hidden);
    tell(this.said, hidden.length ? `Not shown: ${hidden.join(", ")}.` : "");
  }
}

function tellWhat(severity: Severity, text: string): (Node | string)[] {
  return [drawSign(severity), make("b", { class: severity }, severity), ` ${text}`];
}

function tellAgainst(value: string, limit: string): string {
  return value && limit ? `${value}; limit ${limit}` : value || `limit ${limit}`;
}

/** Sets the children where they are others; the focus stays where it is. */
function setChildren(list: HTMLElement, wanted: HTMLElement[]): void {
  const same = list.childElementCount === wanted.length && wanted.every((each, k) => list.children[k] === each);
  if (same) return;
  const focused = document.activeElement;
  list.replaceChildren(...wanted);
  if (focused instanceof HTMLElement && list.contains(focused)) focused.focus({ preventScroll: true });
}
