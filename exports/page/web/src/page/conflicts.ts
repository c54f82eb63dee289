import type { Actions } from "./actions";
import { button, isLost, make, tell } from "./elements";
import { pairLines, type LinePair } from "./line_diff";
import type { State } from "./state";

/** Equal lines that stay in sight round those that differ. */
const AROUND = 3;

/** Asks which of two versions counts where page and file changed the same lines. Neither is lost before that. */
export class Conflicts {
  readonly dialog: HTMLDialogElement;
  /** Leads back to what was put off. */
  readonly waiting: HTMLElement;
  private readonly said = make("p");
  private readonly body = make("tbody");
  private shown: State["conflicts"][number] | null = null;

  /** `closed` puts the keyboard somewhere where it would be lost. */
  constructor(
    private readonly actions: Actions,
    closed: () => void,
  ) {
    const table = make(
      "table",
      { class: "versions" },
      make("caption", { class: "unseen" }, "Both versions, line by line"),
      make(
        "thead",
        {},
        make(
          "tr",
          {},
          make("th", { scope: "col" }, "with the page's change"),
          make("th", { scope: "col" }, "as the file is"),
        ),
      ),
      this.body,
    );
    this.dialog = make(
      "dialog",
      { class: "conflict", "aria-labelledby": "conflict-title" },
      make("h2", { id: "conflict-title" }, "Page and file changed the same lines"),
      this.said,
      make("div", { class: "wide", tabindex: "0", role: "region", "aria-label": "Both versions" }, table),
      make(
        "div",
        { class: "buttons" },
        button("take the page's", () => this.settle("page")),
        button("take the file's", () => this.settle("file")),
        button("decide later", () => this.dialog.close()),
      ),
    );
    this.dialog.addEventListener("close", () => {
      // The browser gives the keyboard back to what had it, if that is still there and can have it; else it is still
      // at something in the dialog.
      if (isLost(document.activeElement)) closed();
    });
    this.waiting = make(
      "p",
      { class: "notice", hidden: true },
      "Page and file changed the same lines; nothing of either is lost. ",
      button("look at both", () => this.open()),
    );
  }

  show({ conflicts }: State): void {
    const first = conflicts[0] ?? null;
    this.waiting.hidden = first === null;
    if (first === this.shown) return;
    this.shown = first;
    if (!first) {
      this.dialog.close();
      return;
    }
    tell(this.said, `The page's change: ${first.said}. Lines that differ are marked; which version shall stand?`);
    this.body.replaceChildren(...tellPairs(pairLines(first.page, first.file), new Set(first.lines)));
  }

  /** Asks the question that has waited longest. */
  open(): void {
    if (this.shown && !this.dialog.open) this.dialog.showModal();
  }

  /** Puts the question off. */
  close(): void {
    this.dialog.close();
  }

  private settle(take: "page" | "file"): void {
    this.actions.settle(take);
  }
}

function tellPairs(pairs: LinePair[], asked: ReadonlySet<number>): HTMLElement[] {
  const near = (k: number) => pairs.slice(Math.max(0, k - AROUND), k + AROUND + 1).some((pair) => !pair.same);
  const rows: HTMLElement[] = [];
  let left = 0;
  const fold = () => {
    if (left > 0) rows.push(make("tr", { class: "folded" }, make("td", { colspan: 2 }, `${left} equal lines`)));
    left = 0;
  };
  pairs.forEach((pair, k) => {
    if (!near(k)) {
      left++;
      return;
    }
    fold();
    const row = make("tr", { class: pair.same ? "same" : "differs" });
    row.append(tellLine(pair.left, pair.same), tellLine(pair.right, pair.same));
    if (pair.right && asked.has(pair.right.number)) row.classList.add("asked");
    rows.push(row);
  });
  fold();
  return rows;
}

function tellLine(line: LinePair["left"], same: boolean): HTMLElement {
  if (!line) return make("td", { class: "missing" }, make("span", { class: "unseen" }, "no line"));
  return make(
    "td",
    {},
    make("span", { class: "line-number" }, String(line.number)),
    !same && make("span", { class: "unseen" }, " differs: "),
    make("code", {}, line.text),
  );
}
