"""A cover screw in its holes, from the values that these are cut by: head, washer, cover, thread or insert."""

from __future__ import annotations

from exports.drawing.annotations import TEXT, on_paper
from exports.drawing.blocks import ViewBlock, add_linear, view_box
from exports.drawing.callouts import list_holes
from exports.drawing.draft import Draft
from exports.drawing.placing import Field, Tag
from exports.drawing.projection import Pads
from exports.drawing.scales import largest_scale
from exports.drawing.sheet_tables import wrap_text
from exports.drawing.values import CutFace, Linear, PlacedView, Style, View, ViewLine
from exports.wording.figures import show_mm
from geom.outline import Line, Loop, Segment, outline_rectangle
from geom.standards import tables
from layouts.plan import Plan
from layouts.strength.screw_hole import clearance_hole, find_washer, fit_screw

BESIDE, BEHIND, ABOVE = 1.6, 0.8, 0.6
"""What of the parts is drawn beside the head, behind the hole and over the head, in screw diameters."""


CALLOUT_ROOM = 40.0
"""Width at which a callout is broken into lines, [mm] on the paper."""


def draw_screw(plan: Plan, room: float) -> ViewBlock | None:
    """Return the detail of a cover screw; None for a panel without.

    Parameters
    ----------
    plan : Plan
    room : float
        Width that it may take, [mm] on the paper.
    """
    panel = plan.panel
    if not (plan.sealed.screws or plan.sealed.front_screws):
        return None
    screw, fit, washer = tables.screw(panel.make.screw), fit_screw(panel), find_washer(panel)
    d, hole, passage = screw.diameter, fit.diameter, clearance_hole(panel)
    wide = max(screw.head_diameter, 0.0 if washer is None else washer.diameter)
    w = wide + 2 * BESIDE * d
    x, joint = w / 2, fit.depth + BEHIND * d
    face = joint + panel.make.cover
    thick = 0.0 if washer is None else washer.thickness
    head = face + thick
    top = head + screw.head_height
    length = fit.length if fit.length is not None else fit.grip + fit.engagement
    tip = head - length
    h = top + ABOVE * d
    bottom = joint - fit.depth
    body: Loop = _loop(
        (0.0, 0.0),
        (w, 0.0),
        (w, joint),
        (x + hole / 2, joint),
        (x + hole / 2, bottom),
        (x - hole / 2, bottom),
        (x - hole / 2, joint),
        (0.0, joint),
    )
    left = outline_rectangle(0.0, joint, x - passage / 2, face, 0.0)
    right = outline_rectangle(x + passage / 2, joint, w, face, 0.0)
    cuts = [CutFace("body", (body,)), CutFace("cover", (left,)), CutFace("cover", (right,))]
    seen: list[Segment] = []
    thin: list[Segment] = []
    for a, b in (((0.0, joint), (x - d / 2, joint)), ((x + d / 2, joint), (w, joint))):
        seen.append(Line(a, b))
    for side in (-1, 1):
        bore = x + side * hole / 2
        seen.append(Line((bore, bottom), (bore, max(bottom, tip))))
        edge, clear = x + side * w / 2, x + side * passage / 2
        seen += [Line((clear, face), (edge, face)), Line((clear, joint), (clear, face))]
        thin += [Line((edge, 0.0), (edge, face))]
        # The shank hides the holes' walls behind it; its thread is the second line.
        seen.append(Line((x + side * d / 2, tip), (x + side * d / 2, head)))
        thin.append(Line((x + side * screw.tap_drill / 2, tip), (x + side * screw.tap_drill / 2, joint)))
    seen += [Line((x - hole / 2, bottom), (x + hole / 2, bottom)), Line((x - d / 2, tip), (x + d / 2, tip))]
    thin.append(Line((0.0, 0.0), (w, 0.0)))
    seen += outline_rectangle(x - screw.head_diameter / 2, head, x + screw.head_diameter / 2, top, 0.0)
    if washer is not None:
        seen += outline_rectangle(x - washer.diameter / 2, face, x + washer.diameter / 2, head, 0.0)
    if fit.insert is not None:
        outer, low = hole / 2, joint - fit.insert.length
        for side in (-1, 1):
            x0, x1 = sorted((x + side * d / 2, x + side * outer))
            cuts.append(CutFace("insert", (outline_rectangle(x0, low, x1, joint, 0.0),)))
            seen.append(Line((x0, low), (x1, low)))
    style: tuple[tuple[list[Segment], Style], ...] = ((seen, "visible"), (thin, "thin"))
    lines = [ViewLine(s, name) for group, name in style for s in group]
    lines.append(ViewLine(Line((x, 0.4 * d), (x, h)), "centre"))
    scale = largest_scale(lambda s: w * s <= room, 2.0) or 1.0

    def finish(draft: Draft, ink: Field, number: int, placed: PlacedView) -> None:
        beside = placed.corner[0] - 7.0
        add_linear(draft, ink, Linear(number, "v", (0.0, joint), (0.0, face), beside), [beside])
        beyond = placed.corner[0] + w * placed.scale + 8.0
        add_linear(draft, ink, Linear(number, "v", (x + hole / 2, bottom), (w, joint), beyond), [beyond])
        size = screw.name if fit.length is None else f"{screw.name} x {show_mm(fit.length)}, ISO 4762"
        # As the table of holes says it.
        held = next(
            one.callout for one in list_holes(plan) if one.part == "body" and one.sort.endswith("cover screw")
        )
        named = [
            (size, (x + 0.3 * d, head + 0.6 * screw.head_height)),
            (held, (x, (bottom + tip) / 2 if tip > bottom else bottom)),
            (f"Ø{show_mm(passage)}", (x + (d + passage) / 4, joint + 0.5 * panel.make.cover)),
            ("body", (0.12 * w, 0.5 * joint)),
            ("cover", (0.12 * w, joint + 0.6 * panel.make.cover)),
        ]
        if washer is not None:
            at = (x - washer.diameter / 2 + 0.4, face + thick / 2)
            named.append((f"washer {show_mm(washer.diameter)}, {washer.standard}", at))
        draft.tags += [
            Tag(
                wrap_text(text, CALLOUT_ROOM),
                on_paper(placed, at),
                0.0,
                TEXT,
                led=True,
                dot=True,
                beside=view_box(placed),
            )
            for text, at in named
        ]

    view = View("detail E", (w, h), tuple(lines), tuple(cuts))
    return ViewBlock(view, "detail E: cover screw", scale, Pads(38.0, 42.0, 8.0, 6.0), finish)


def _loop(*points: tuple[float, float]) -> Loop:
    return tuple(Line(a, b) for a, b in zip(points, (*points[1:], points[0]), strict=True))
