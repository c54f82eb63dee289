import type { Actions, Region } from "./actions";
import { button, make, tell } from "./elements";
import { secondsOf } from "./going_on";
import type { State } from "./state";

/** Making the files: how far it is, what came of it, and each file to be fetched. */
export class Making implements Region {
  readonly element: HTMLElement;
  private readonly begin: HTMLButtonElement;
  private readonly stop: HTMLButtonElement;
  private readonly bar = make("progress", { max: 1, "aria-label": "making the files" });
  private readonly stage = make("span", { role: "status" });
  /** Beside what is said aloud: that would be said each second. */
  private readonly seconds = make("span", { class: "number" });
  /** Why nothing can be made; empty where it can. */
  private readonly hindered = make("p", { id: "make-hindered" });
  private readonly stale = make("p", { class: "notice", role: "status", hidden: true });
  private readonly result = make("div", { class: "made" });
  private shown: State["made"] = null;
  private may = false;

  constructor(private readonly actions: Actions) {
    // Not disabled: that would take the keyboard's focus away from it.
    this.begin = button("make the files", () => this.press(), { class: "first", "aria-describedby": "make-hindered" });
    this.stop = button("stop", () => actions.stopMaking(), { "aria-label": "stop making" });
    this.element = make(
      "div",
      {},
      make(
        "p",
        {},
        "Makes solids, meshes, drawing and papers from the file as it is written. ",
        make("strong", {}, "What is made is not a certificate; follow local codes."),
      ),
      make("div", { class: "buttons" }, this.begin, this.stop),
      this.hindered,
      this.bar,
      make("p", {}, this.stage, this.seconds),
      this.stale,
      this.result,
    );
  }

  show(state: State): void {
    const { making, made } = state;
    const progress = state.progress.make;
    this.may = !making && state.connected && state.plan !== null && state.problem === null;
    tell(this.hindered, this.may || making ? "" : tellHindrance(state));
    this.begin.setAttribute("aria-disabled", String(!this.may));
    const handy = document.activeElement === this.begin || document.activeElement === this.stop;
    if (!making && document.activeElement === this.stop) this.begin.focus();
    this.stop.hidden = !making;
    this.bar.hidden = !making;
    if (progress && progress.share !== null) this.bar.value = progress.share;
    else this.bar.removeAttribute("value");
    tell(this.stage, making ? (progress ? progress.stage : "Asked for.") : "");
    this.tick(state);
    const changed = made !== null && state.file !== null && made.revision !== state.file.revision;
    this.stale.hidden = !changed || !made?.files.length;
    tell(this.stale, changed ? "The file has changed since these were made." : "");
    if (made === this.shown) return;
    this.shown = made;
    this.result.replaceChildren(...(made ? this.tellMade(made) : []));
    if (made && handy) this.result.querySelector("h3")?.focus();
    if (made) this.actions.say(made.files.length ? `${made.files.length} files are made.` : made.withheld);
  }

  private press(): void {
    if (this.may) this.actions.make();
    else this.actions.say(this.hindered.textContent || "The files are being made already.");
  }

  tick({ making, progress: { make: progress } }: State): void {
    tell(this.seconds, making && progress ? `, ${secondsOf(progress)} s` : "");
  }

  private tellMade({ files, all, withheld, findings }: NonNullable<State["made"]>): (Node | string)[] {
    const told: (Node | string)[] = [make("h3", { tabindex: "-1" }, files.length ? "Files that are made" : "No files")];
    if (withheld) told.push(make("p", { class: "withheld" }, withheld));
    const faults = findings.filter(({ severity }) => severity === "fault");
    if (faults.length) told.push(make("ul", { class: "told" }, ...faults.map(({ text }) => make("li", {}, text))));
    if (!files.length) return told;
    if (all) {
      const words = `all ${files.length} files, as one`;
      told.push(make("p", {}, make("a", { href: all, download: true, class: "all" }, words)));
    }
    told.push(
      make(
        "ul",
        { class: "files" },
        ...files.map(({ name, what, bytes, address }) =>
          make(
            "li",
            {},
            make("a", { href: address, download: name }, name),
            make("span", { class: "soft number" }, tellBytes(bytes)),
            make("span", { class: "soft" }, what),
          ),
        ),
      ),
    );
    return told;
  }
}

function tellHindrance({ connected, problem }: State): string {
  if (!connected) return "Nothing can be made until the connection is there again.";
  if (!problem) return "Nothing can be made until the plan is there.";
  return problem.problem.kind === "file"
    ? "Nothing can be made of a file with errors: Findings tells them."
    : "Nothing can be made without a layout: Findings tells what is in the way.";
}

function tellBytes(bytes: number): string {
  if (bytes < 1000) return `${bytes} B`;
  return bytes < 1e6 ? `${(bytes / 1e3).toFixed(0)} kB` : `${(bytes / 1e6).toFixed(1)} MB`;
}
