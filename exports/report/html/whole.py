"""The whole page: verdict first, then plan, solids, flow, tables, findings and cautions."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from exports.page.built import REMEDY, read_built
from exports.report.document import order_findings
from exports.report.failure import tell_remedy
from exports.report.html.blocks import Section
from exports.report.html.closing_section import closing_section
from exports.report.html.filling_section import filling_section
from exports.report.html.findings_section import list_checks, view_findings
from exports.report.html.flow_section import flow_section
from exports.report.html.inline_svg import inline_svg
from exports.report.html.job import tell_job
from exports.report.html.leak_section import leak_section
from exports.report.html.making_section import making_section
from exports.report.html.plan_figure import draw_plan_figure
from exports.report.html.plan_things import light_table, tell_ports
from exports.report.html.rendering import fill_template
from exports.report.html.tubes_section import tubes_section
from exports.report.html.verdict import judge_findings
from exports.report.key_numbers import list_key_numbers
from exports.wording.withheld import BY_LAYOUT, order_left, tell_withheld, warn_of_left
from exports.writing import REPORT_NAME
from geom.findings import SEVERITIES, Finding
from layouts.cost.sheet import CostSheet
from layouts.plan import Plan
from layouts.rules.cautions import CAUTIONS, ESTIMATES, list_cautions

if TYPE_CHECKING:
    from exports.check_solids import Checked
    from layouts.failure import LayoutFailure

SCRIPT, STYLE = "report.js", "report.css"
"""What the build makes for the page."""

PROJECTION = "panel.svg"
"""The picture that stands for the solid where it cannot be turned."""

LEFT_WARNING = warn_of_left("this folder").capitalize()

MOST_BYTES = 2_400_000
"""Of the page: over this it opens slowly. The heaviest pictures then stay out."""

LATER_FILES = ((REPORT_NAME, "all of this as one document for other programs"),)
"""Written beside the page, behind it."""


def report_page(
    plan: Plan,
    checked: Checked | None,
    findings: tuple[Finding, ...],
    cost: CostSheet,
    pictures: Mapping[str, str],
    files: tuple[tuple[str, str], ...],
    left: tuple[str, ...] = (),
) -> str:
    """Return the report as one HTML document that asks for nothing else.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
        None where no solids were built.
    findings : tuple of Finding
        All of the run.
    cost : CostSheet
    pictures : mapping of str to str
        File name to SVG document: those that the run wrote, and what only the page shows.
    files : tuple of (str, str)
        Names of the files that the run wrote beside it, with what each is.
    left : tuple of str
        Names of an earlier run's files that are still beside it: told where this one may not be made.
    """
    ordered = order_findings(findings)
    drawn = draw_plan_figure(plan, ordered)
    viewed = view_findings(ordered, drawn.things, drawn.letters, drawn.places)
    scene = "" if checked is None else _pack(plan, checked, ordered, drawn.letters)
    fixed: dict[str, Any] = dict(
        script=read_built(SCRIPT),
        style=read_built(STYLE),
        build=REMEDY,
        name=plan.panel.name,
        sha256=plan.panel.sha256,
        job=tell_job(plan.panel),
        verdict=judge_findings(viewed, checked is not None, left),
        warning=LEFT_WARNING,
        estimates=ESTIMATES,
        numbers=list_key_numbers(plan, checked, cost),
        plan=drawn,
        ports=tell_ports(plan),
        lights=light_table(plan, drawn.things),
        projection_file=PROJECTION if PROJECTION in dict(files) else "",
        scene=scene,
        findings=viewed,
        counts=[(severity, sum(one.severity == severity for one in viewed)) for severity in SEVERITIES],
        checks=list_checks(ordered, checked is not None),
        files=(*files, *LATER_FILES),
        cautions=list_cautions(plan.panel),
    )
    shown = dict(pictures)
    while True:
        sections = (
            *flow_section(plan, shown),
            *closing_section(plan, checked, shown),
            *filling_section(plan, checked, shown),
            *making_section(plan, checked, cost, shown),
            *tubes_section(plan, shown),
            *leak_section(plan, checked),
        )
        page = fill_template(
            "report.html",
            **fixed,
            projection=inline_svg(shown.get(PROJECTION, ""), "panel"),
            sections=sections,
            contents=_list_contents(sections, built=checked is not None),
        )
        heaviest = max(shown, key=lambda name: (len(shown[name]), name), default="")
        if len(page.encode("utf-8")) <= MOST_BYTES or not shown.get(heaviest):
            return page
        # Beside the page the picture stands all the same, and the page leads there.
        shown[heaviest] = ""


def failure_page(failure: LayoutFailure, picture: str, left: tuple[str, ...] = ()) -> str:
    """Return the report of a panel that could not be laid out.

    Parameters
    ----------
    failure : LayoutFailure
    picture : str
        SVG document of what is in the way.
    left : tuple of str
        Names of an earlier run's files that are still beside the page.
    """
    said = (failure.describe_reason(), failure.describe_places())
    return fill_template(
        "failure.html",
        script=read_built(SCRIPT),
        style=read_built(STYLE),
        build=REMEDY,
        name=failure.panel.name,
        sha256=failure.panel.sha256,
        job=tell_job(failure.panel),
        # The same file gives the same page, wherever it lies.
        where=failure.where.replace(failure.panel.path, Path(failure.panel.path).name),
        headline=failure.headline,
        withheld=_sentence(tell_withheld(BY_LAYOUT)),
        left=order_left(left),
        warning=LEFT_WARNING,
        reasons=[one for one in said if one],
        channels=failure.channels,
        remedies=[tell_remedy(failure, remedy) for remedy in failure.remedies],
        picture=inline_svg(picture, "plan"),
        contents=[("why", "Why not"), ("helps", "What helps"), ("files", "Files"), ("cautions", "Cautions")],
        files=(("plan.svg", "the same picture"), *LATER_FILES),
        cautions=CAUTIONS,
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _pack(plan: Plan, checked: Checked, findings: tuple[Finding, ...], letters: Mapping[int, str]) -> str:
    from exports.report.html.scene import pack_scene

    return pack_scene(plan, checked, findings, letters)


def _list_contents(sections: tuple[Section, ...], built: bool) -> list[tuple[str, str]]:
    """Return where each part of the page stands, with its heading."""
    solid = [("solid-view", "Solid")] if built else []
    listed = [(section.anchor, section.title) for section in sections]
    last = [("findings", "Findings"), ("files", "Files"), ("cautions", "Cautions")]
    return [("verdict", "Verdict"), ("plan", "Plan"), *solid, *listed, *last]
