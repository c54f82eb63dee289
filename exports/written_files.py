"""What a run writes: which files there are, with or without a fault, and where there is no layout."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from exports.paper_files import PAGE, report_file, work_papers
from exports.writing import REPORT_NAME, FileRecord, OutFile, earlier_files, write_files
from geom.errors import GeometryError
from geom.findings import Finding, has_fault
from layouts.cost.sheet import CostSheet
from layouts.plan import Plan

if TYPE_CHECKING:
    import trimesh

    from exports.check_solids import Checked
    from layouts.failure import LayoutFailure
    from layouts.milling.work import SetUp


@dataclass(frozen=True, slots=True)
class TextFile:
    """A picture or a table: its name, what it is, and all of its text."""

    name: str
    what: str
    text: str

    def out_file(self) -> OutFile:
        """Return it as a file to be written."""

        def put(path: Path) -> None:
            path.write_bytes(self.text.encode("utf-8"))

        return OutFile(self.name, self.what, put)


def write_made(
    plan: Plan, checked: Checked | None, findings: tuple[Finding, ...], cost: CostSheet, out: Path
) -> tuple[FileRecord, ...]:
    """Write what a run may write: all files, or only report, cost sheet and pictures where there is a fault.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
    findings : tuple of Finding
        All of the run.
    cost : CostSheet
    out : Path

    Returns
    -------
    tuple of FileRecord
        Without the report itself.

    Raises
    ------
    OutputError
        Where the folder cannot be written; it is then as it was.
    """
    from exports.pictures.closing_picture import draw_closing
    from exports.pictures.plan_picture import draw_plan
    from exports.pictures.pressure_picture import draw_pressure
    from exports.pictures.pump_picture import draw_pumps
    from exports.pictures.setup_picture import draw_setups
    from exports.report.document import encode_report, report_document
    from exports.tables.cost_tables import cost_csv
    from layouts.faces import joints_of
    from layouts.loop_curve import trace_loop_curve

    curve = trace_loop_curve(plan.panel, plan.routed, plan.flowing)
    files = [
        TextFile(
            "plan.svg",
            "plan with channels, ports, flow and findings",
            draw_plan(replace(plan, findings=findings)),
        ),
        TextFile("pumps.svg", "the pumps' curves against the loop's", draw_pumps(plan, curve)),
        TextFile("pressure.svg", "pressure along the loop, from tank to tank", draw_pressure(plan)),
        TextFile("cost.csv", "what goes into the panel, and what it costs", cost_csv(cost)),
    ]
    for layer in joints_of(plan.panel):
        name, cover = ("closing-front", "front cover") if layer == "front" else ("closing", "cover")
        files.append(
            TextFile(f"{name}.svg", f"how the {cover} is closed, to work by", draw_closing(plan, layer))
        )
    files += _tube_pictures(plan)
    files += _filling_pictures(plan, checked)
    files += _bow_pictures(plan, checked)
    files += _print_pictures(plan, checked)
    if plan.milled is not None and plan.milled.setups:
        files.append(
            TextFile("setups.svg", "set-ups for milling, with what each tool cuts", draw_setups(plan))
        )
    good = checked is not None and not has_fault(findings)
    made = [text.out_file() for text in files]
    if checked is not None and good:
        solids, picture = _solid_files(plan, checked)
        files.append(picture)
        made += [*solids, picture.out_file(), *work_papers(plan, checked, findings, cost)]
    pictures = {file.name: file.text for file in files if file.name.endswith(".svg")}
    named = tuple((file.name, file.what) for file in made)
    if checked is not None and not good:
        pictures |= _projection(plan, checked)
    left = () if good else _left_names(out, (file.name for file in made))
    made.append(report_file(plan, checked, findings, cost, pictures, named, left))
    return write_files(
        out,
        tuple(made),
        lambda records, left: encode_report(
            report_document(plan, checked, findings, records, {}, left, cost)
        ),
        drop_stale=good,
    )


def _projection(plan: Plan, checked: Checked) -> dict[str, str]:
    """Return the panel's picture for the page alone; none where a faulty solid cannot be drawn."""
    from exports.pictures.panel_picture import draw_panel
    from exports.report.html.whole import PROJECTION

    try:
        return {PROJECTION: draw_panel(plan, checked)}
    except GeometryError:
        return {}


def _left_names(out: Path, written: Iterable[str]) -> tuple[str, ...]:
    """Return the names of an earlier run's files that a run without exports leaves in a folder."""
    replaced = {*written, PAGE, REPORT_NAME}
    return tuple(record.name for record in earlier_files(out) if record.name not in replaced)


def _tube_pictures(plan: Plan) -> list[TextFile]:
    from exports.pictures.tube_picture import draw_tubes

    if not plan.tubes:
        return []
    said = "tubes between panel and parts: three views, cut lengths and marks of their bends"
    return [TextFile("tubes.svg", said, draw_tubes(plan))]


def _filling_pictures(plan: Plan, checked: Checked | None) -> list[TextFile]:
    from exports.pictures.filling_picture import draw_filling
    from exports.pictures.tilt_picture import draw_tilts

    filling = plan.filling if checked is None or checked.filling is None else checked.filling
    if filling is None:
        return []
    drawn = draw_filling(plan, filling)
    files = [
        TextFile("filling.svg", "how the panel fills step by step, and what air and coolant stay", drawn)
    ]
    if filling.tilts is not None:
        said = "air and coolant that stay when the panel is tilted, and the best tilts"
        files.append(TextFile("tilts.svg", said, draw_tilts(plan, filling.tilts, filling.left)))
    return files


def _bow_pictures(plan: Plan, checked: Checked | None) -> list[TextFile]:
    from exports.pictures.bow_picture import draw_bow

    files = []
    for bending in () if checked is None else checked.bending:
        name, cover = ("bow-front", "front cover") if bending.layer == "front" else ("bow", "cover")
        files.append(
            TextFile(
                f"{name}.svg",
                f"how the {cover} bows between its screws, with its stress",
                draw_bow(plan, bending),
            )
        )
    return files


def _print_pictures(plan: Plan, checked: Checked | None) -> list[TextFile]:
    from exports.pictures.print_picture import draw_print

    files: list[TextFile] = []
    if checked is None:
        return files
    for part in checked.poses:
        name = "print" if part is checked.poses[0] else f"print-{part.part.replace(' ', '-')}"
        said = f"how the {part.part} lies in the printer, what hangs, and the poses that were tried"
        files.append(TextFile(f"{name}.svg", said, draw_print(plan, checked, part)))
    return files


def write_failure(failure: LayoutFailure, out: Path) -> tuple[FileRecord, ...]:
    """Write why there is no layout: report and picture; what an earlier run made stays, as with a fault.

    Parameters
    ----------
    failure : LayoutFailure
    out : Path

    Returns
    -------
    tuple of FileRecord
        Without the report itself.

    Raises
    ------
    OutputError
        Where the folder cannot be written; it is then as it was.
    """
    from exports.pictures.failure_picture import draw_failure
    from exports.report.document import encode_report
    from exports.report.failure import failure_document
    from exports.report.html.whole import failure_page

    picture = TextFile(
        "plan.svg", "why there is no layout: what was asked for and what is in the way", draw_failure(failure)
    )
    left = _left_names(out, (picture.name,))
    page = TextFile(
        PAGE, "the report to look at: opens in a browser", failure_page(failure, picture.text, left)
    )
    return write_files(
        out,
        (picture.out_file(), page.out_file()),
        lambda records, left: encode_report(failure_document(failure, records, {}, left)),
        drop_stale=False,
    )


def _solid_files(plan: Plan, checked: Checked) -> tuple[list[OutFile], TextFile]:
    """Return what is exported of the solids, and the panel's picture."""
    from exports.formats.glb import write_glb
    from exports.formats.step import StepPart, write_step
    from exports.formats.stl import write_stl
    from exports.formats.threemf import write_threemf
    from exports.pictures.colours import part_colour
    from exports.pictures.panel_picture import draw_panel
    from exports.print_meshes import describe_print
    from layouts.printing.process import is_printed

    title = plan.panel.name
    features = plan.detail.features
    parts = tuple(StepPart(p.name, p.solid, part_colour(p.name)) for p in checked.solids.parts)
    shown = tuple((p.name, checked.meshes[p.name], p.colour) for p in parts)
    shown = (*shown, ("coolant", checked.wet_mesh, part_colour("coolant")))
    files = [
        OutFile(
            "assembly.step",
            "all parts as solids, mm, STEP AP242, for machining and assembly",
            lambda p: write_step(p, title, parts, features, assembly=True),
        ),
        OutFile(
            "assembly.glb", "all parts and the coolant for viewers, metres", lambda p: write_glb(p, shown)
        ),
    ]
    made = {blank.name for blank in plan.detail.blanks}
    for part in parts:
        if part.name not in made:
            continue
        stem = part.name.replace(" ", "-")
        mesh = next((p.mesh for p in checked.prints if p.fit.part == part.name), checked.meshes[part.name])
        unlike = describe_print([p.fit for p in checked.prints], part.name)
        apart = f"; unlike the solid: {unlike}" if unlike else ""
        cut = plan.printed is not None and not is_printed(plan.panel, part.name)
        use = "as drawn: it is cut from a sheet" if cut else f"for printing{apart}"

        def step(p: Path, part: StepPart = part) -> None:
            write_step(p, title, (part,), features, assembly=False)

        def stl(p: Path, name: str = part.name, mesh: trimesh.Trimesh = mesh) -> None:
            write_stl(p, name, mesh)

        def threemf(p: Path, name: str = part.name, mesh: trimesh.Trimesh = mesh) -> None:
            write_threemf(p, name, title, mesh)

        files.append(OutFile(f"{stem}.step", f"{part.name} as a solid, mm, STEP AP242, for machining", step))
        files.append(OutFile(f"{stem}.stl", f"{part.name} as a mesh, mm, binary STL, {use}", stl))
        files.append(OutFile(f"{stem}.3mf", f"{part.name} as a mesh, mm, 3MF, {use}", threemf))
    files += _profile_files(plan)
    drawn = draw_panel(plan, checked)
    return files, TextFile("panel.svg", "picture of the panel, its cover lifted off", drawn)


def _profile_files(plan: Plan) -> list[OutFile]:
    """Return the profiles of a milled panel's set-ups."""
    from exports.formats.dxf import dxf_name, write_dxf

    files: list[OutFile] = []
    setups = () if plan.milled is None else plan.milled.setups
    for number, setup in enumerate(setups, 1):

        def dxf(p: Path, number: int = number, setup: SetUp = setup) -> None:
            write_dxf(p, plan.panel.name, number, setup, setups)

        what = f"what is cut of the {setup.part} with its {setup.face} up, 2D profiles by depth, mm, DXF"
        files.append(OutFile(dxf_name(setup), what, dxf))
    return files
