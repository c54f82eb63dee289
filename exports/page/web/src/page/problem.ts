import type { Actions, Region } from "./actions";
import { tellChanges } from "./change_words";
import { button, make } from "./elements";
import type { ProblemDoc } from "./messages";
import { drawSign } from "./signs";
import { shownProblem, type State } from "./state";

/** Why there is no plan: errors of the file with their lines, or reasons why there is no layout, and what helps. */
export class Problem implements Region {
  readonly element = make("section", { class: "problem", "aria-labelledby": "problem-title", hidden: true });
  private shown: ProblemDoc | null = null;
  private revision = 0;

  constructor(private readonly actions: Actions) {}

  show(state: State): void {
    const problem = shownProblem(state);
    this.revision = (state.trial ? state.trial.revision : state.problem?.revision) ?? 0;
    if (problem === this.shown) return;
    this.shown = problem;
    this.element.hidden = problem === null;
    if (!problem) {
      this.element.replaceChildren();
      return;
    }
    if (!state.trial || state.trial.said) this.actions.alert(problem.headline);
    const told = problem.told.map(({ line, key, text }) =>
      make(
        "li",
        {},
        line > 0 ? button(`line ${line}`, () => this.actions.showLine(line), { class: "line" }) : "",
        key ? make("code", {}, key) : "",
        ` ${text}`,
      ),
    );
    const remedies = problem.remedies.map(({ text, changes }) => {
      const item = make("li", {}, make("p", {}, text));
      if (changes) {
        const words = tellChanges(changes);
        item.append(
          make(
            "div",
            { class: "buttons" },
            button("try", () => this.actions.tryChanges(changes, words, this.revision), {
              "data-edit": true,
              "aria-label": `try ${words}`,
            }),
            button("do it", () => this.actions.edit([{ changes }], words, this.revision), {
              "data-edit": true,
              "aria-label": `do it: ${words}`,
            }),
            make("code", { class: "change" }, words),
          ),
        );
      }
      return item;
    });
    this.element.replaceChildren(
      make("h3", { id: "problem-title" }, drawSign("fault"), ` ${problem.headline}`),
      make("ul", { class: "told" }, ...told),
      ...(problem.channels.length ? [make("p", {}, `Channels: ${problem.channels.join(", ")}`)] : []),
      ...(remedies.length ? [make("h4", {}, "What would help"), make("ul", { class: "told" }, ...remedies)] : []),
    );
  }
}
