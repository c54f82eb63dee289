"""Times of the papers of the main example, and how its report opens in a browser, against the targets.

Run: ``python tests/benchmarks/bench_papers.py [RUNS]``. Plan and solids are made first and do not count. The first
time of each paper, with the libraries that it loads, is what a run of the command takes; the best of the runs and what
the first takes of a processor stand beside it: other work on the machine lengthens only the times by the clock. The
browser is started afresh for each run; software draws its 3D; what an empty page takes to paint is the browser's own
share of the first paint. A ratio under 1 meets the target.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

DEMO = ROOT / "layouts" / "panels" / "workshop-render.toml"
PAPERS_S, PAINT_S, SOLID_S, PAGE_MB, REQUESTS = 4.0, 1.0, 2.0, 2.5, 0.0
WAIT_MS = 60_000
"""How long the page may take to show its solid before the measuring is given up."""

Step = tuple[str, Callable[[], None]]


def list_steps(folder: Path) -> list[Step]:
    """Return the papers with what makes each, in order; plan, solids and pictures are made here.

    Parameters
    ----------
    folder : Path
    """
    from exports.check_solids import check_solids
    from exports.paper_files import report_file
    from exports.pipeline import join_findings, make_panel, plan_panel
    from layouts.cost.quantities import cost_sheet

    plan = plan_panel(DEMO)
    checked = check_solids(plan)
    findings = join_findings(plan, checked)
    cost = cost_sheet(plan, checked.volumes.by_part)
    kept: dict[str, object] = {}

    def draw() -> None:
        from exports.drawing.draw_sheets import draw_sheets

        kept["sheets"] = draw_sheets(plan, checked)

    def document() -> None:
        from exports.drawing.dxf_document import build_document

        kept["drawing"] = build_document(kept["sheets"])

    def dxf() -> None:
        from exports.drawing.dxf_document import write_drawing_dxf

        write_drawing_dxf(folder / "drawing.dxf", kept["drawing"])

    def pdf() -> None:
        from exports.drawing.pdf_pages import write_drawing_pdf

        write_drawing_pdf(folder / "drawing.pdf", kept["drawing"])

    def sheets() -> None:
        from exports.sheets.whole import write_sheets

        write_sheets(folder / "sheets.pdf", plan, checked, findings, cost)

    def parts() -> None:
        from exports.tables.parts_list import parts_csv

        (folder / "parts.csv").write_bytes(parts_csv(plan, cost).encode("utf-8"))

    # The page shows the pictures of the run: they are made before, as they are without it.
    whole = folder / "whole"
    make_panel(DEMO, whole)
    pictures = {path.name: path.read_text(encoding="utf-8") for path in sorted(whole.glob("*.svg"))}
    named = tuple((path.name, path.name) for path in sorted(whole.iterdir()))

    def page() -> None:
        report_file(plan, checked, findings, cost, pictures, named).write(folder / "report.html")

    return [
        ("drawing: views and sheets", draw),
        ("drawing: document", document),
        ("drawing.dxf", dxf),
        ("drawing.pdf", pdf),
        ("sheets.pdf", sheets),
        ("parts.csv", parts),
        ("report.html", page),
    ]


def time_steps(steps: list[Step], runs: int) -> list[tuple[str, float, float, float]]:
    """Return each step's first and best time by the clock, and its first of the processor, [s]."""
    times: dict[str, list[float]] = {name: [] for name, _ in steps}
    worked: dict[str, float] = {}
    for _ in range(runs):
        for name, step in steps:
            start, work = time.perf_counter(), time.process_time()
            step()
            times[name].append(time.perf_counter() - start)
            worked.setdefault(name, time.process_time() - work)
    return [(name, taken[0], min(taken), worked[name]) for name, taken in times.items()]


FIRST_PAINT_MS = (
    "new Promise(told => new PerformanceObserver(seen => seen.getEntries().forEach("
    "entry => entry.name === 'first-contentful-paint' && told(entry.startTime)"
    ")).observe({ type: 'paint', buffered: true }))"
)


def open_empty(folder: Path) -> float:
    """Return when a page with one word first paints, [s] from its opening."""
    from browser import open_file

    page = folder / "empty.html"
    page.write_text("<!doctype html><title>empty</title><p>empty</p>", encoding="utf-8")
    with open_file(page) as opened:
        return float(opened.page.evaluate(FIRST_PAINT_MS)) / 1e3


def open_page(page: Path) -> tuple[float, float, int]:
    """Return when a page first paints and when its solid stands, [s] from its opening, and how often it asks out.

    Parameters
    ----------
    page : Path
    """
    from browser import open_file

    with open_file(page) as opened:
        opened.page.wait_for_selector("html[data-solid=ready]", state="attached", timeout=WAIT_MS)
        paint_ms = float(opened.page.evaluate(FIRST_PAINT_MS))
        solid_ms = float(opened.page.evaluate("document.documentElement.dataset.solidMs"))
        for complaint in opened.complaints:
            print(f"the page complains: {complaint}")
        return paint_ms / 1e3, solid_ms / 1e3, len(opened.requests)


def main(runs: int) -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        timed = time_steps(list_steps(folder), runs)
        print(f"{'paper':<28}{'first':>10}{'best':>10}{'processor':>12}")
        for step, first, best, work in timed:
            print(f"{step:<28}{first:>8.2f} s{best:>8.2f} s{work:>10.2f} s")
        page = folder / "report.html"
        figures = [("all papers, first time", sum(first for _, first, _, _ in timed), PAPERS_S, "s")]
        print(
            f"{'together':<38}{sum(best for _, _, best, _ in timed):>8.2f} s{sum(w for *_, w in timed):>10.2f} s"
        )
        if shutil.which("chromium"):
            empty = min(open_empty(folder) for _ in range(runs))
            print(f"{'an empty page: first paint':<38}{empty:>8.2f} s")
            opened = [open_page(page) for _ in range(runs)]
            figures += [
                ("report: first paint", min(paint for paint, _, _ in opened), PAINT_S, "s"),
                ("report: solid stands", min(solid for _, solid, _ in opened), SOLID_S, "s"),
                ("report: requests", max(float(asked) for _, _, asked in opened), REQUESTS, ""),
            ]
        figures.append(("report: size", page.stat().st_size / 1e6, PAGE_MB, "MB"))
    print(f"\n{'figure':<28}{'measured':>12}{'target':>12}{'ratio':>8}")
    for what, value, target, unit in figures:
        ratio = f"{value / target:.2f}" if target else "met" if value == 0.0 else "over"
        print(f"{what:<28}{f'{value:.2f} {unit}':>12}{f'{target:g} {unit}':>12}{ratio:>8}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
