"""The drawing of a panel: which sheets there are, and what stands on each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from exports.drawing.assembly_sheet import draft_assembly
from exports.drawing.callouts import list_holes
from exports.drawing.draft import finish_sheet
from exports.drawing.face_sheets import draft_faces
from exports.drawing.needed_views import Cut, list_cuts, take_views
from exports.drawing.notes import show_material
from exports.drawing.section_marks import passes
from exports.drawing.section_sheets import draft_sections
from exports.drawing.values import DrawingSet, View
from geom.features import Blank
from layouts.faces import COVERS, material_of
from layouts.plan import Plan

if TYPE_CHECKING:
    from exports.check_solids import Checked


def draw_sheets(plan: Plan, checked: Checked) -> DrawingSet:
    """Return all sheets of the drawing.

    Parameters
    ----------
    plan : Plan
    checked : Checked
        Its solids are what is drawn.
    """
    return lay_sheets(plan, take_views(plan, checked.solids))


def lay_sheets(plan: Plan, views: Mapping[str, View]) -> DrawingSet:
    """Return all sheets of the drawing from views of the solids: assembly, sections, then part by part.

    Parameters
    ----------
    plan : Plan
    views : mapping of str to View
        `take_views`; the same for both projections and all papers.
    """
    holes, cuts = list_holes(plan), list_cuts(plan)
    parts = [blank.name for blank in plan.detail.blanks]
    whole = ", ".join(dict.fromkeys(material_of(plan.panel, part) for part in parts))
    drafts = [
        *draft_assembly(plan, views, cuts, whole),
        *draft_sections(plan, views, cuts, whole),
        *(
            draft
            for blank in plan.detail.blanks
            for draft in draft_faces(
                plan, blank, views, holes, marked_cuts(blank, cuts), show_material(plan, blank.name)
            )
        ),
    ]
    sheets = (finish_sheet(draft, plan.panel, k, len(drafts)) for k, draft in enumerate(drafts, 1))
    return DrawingSet(plan.panel.name, plan.panel.sha256, tuple(sheets))


def marked_cuts(blank: Blank, cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """Return the sections that are marked on a part: on the body, or on each piece of it, those that pass it.

    Parameters
    ----------
    blank : Blank
    cuts : sequence of Cut
    """
    return () if blank.name in COVERS else tuple(cut for cut in cuts if passes(cut.plane, blank))
