"""Where a printed panel is split, as the plan picture shows it: the plane, its rings, screws with their wells, pins."""

from __future__ import annotations

from exports.pictures.labels import LabelRequest
from exports.pictures.plan_symbols import HIDDEN, INK, SHEET, SOFT, draw_region
from exports.pictures.svg import View
from geom.features import Feature
from geom.frame import SAME_MM
from geom.outline import Loop, outline_rectangle
from layouts.detail import cast_shadow
from layouts.plan import Plan
from layouts.printing.printed import Split

BEYOND = 10.0
"""How far the plane's line reaches over the panel's edges, in picture units."""

PLANE = 'stroke-dasharray="14 4 3 4"'
JOINT = ("ring groove", "screw hole", "clearance hole", "screw well", "pin hole")


def find_split(plan: Plan) -> Split | None:
    """Return where a plan's panel is split; None where it is not."""
    return None if plan.printed is None else plan.printed.split


def draw_split(plan: Plan, view: View) -> list[str]:
    """Draw the plane of a split as a chain line over what its joint cuts; what lies hidden is dashed."""
    split = find_split(plan)
    if split is None:
        return []
    mouths = {well.box for well in split.wells if well.on == "front"}
    out = []
    for feature in _joint_features(plan):
        loop, box = _outline(feature)
        seen = feature.kind == "screw well" and any(_same(box, mouth) for mouth in mouths)
        fill = SHEET if feature.kind == "screw well" else "none"
        out.append(draw_region((loop,), view, fill, INK if seen else SOFT, 0.9, "" if seen else HIDDEN))
    across = split.axis == "x"
    x0, y0 = view.to((split.at, 0.0) if across else (0.0, split.at))
    x1, y1 = view.to((split.at, plan.panel.height) if across else (plan.panel.width, split.at))
    ends = (
        f"M{x0:.2f} {y0 + BEYOND:.2f}L{x1:.2f} {y1 - BEYOND:.2f}"
        if across
        else f"M{x0 - BEYOND:.2f} {y0:.2f}L{x1 + BEYOND:.2f} {y1:.2f}"
    )
    out.append(f'<path d="{ends}" stroke="{INK}" stroke-width="1.6" fill="none" {PLANE}/>')
    return out


def explain_split(plan: Plan) -> list[tuple[list[str], str]]:
    """Return what the legend says of a split: a symbol, 20 wide about a middle line, and its words; empty without."""
    split = find_split(plan)
    if split is None:
        return []
    line = f'<path d="M0 0h20" stroke="{INK}" stroke-width="1.6" {PLANE}/>'
    well = f'<rect x="3" y="-5" width="14" height="10" fill="{SHEET}" stroke="{{}}" stroke-width="0.9" {{}}/>'
    hidden = (
        f'<rect x="2" y="-3" width="16" height="6" fill="none" stroke="{SOFT}" stroke-width="0.9" {HIDDEN}/>'
    )
    entries = [([line], "plane of the split")]
    if any(one.on == "front" for one in split.wells):
        entries.append(([well.format(INK, "")], "well of a joint screw"))
    if any(one.on == "back" for one in split.wells):
        entries.append(([well.format(SOFT, HIDDEN)], "well, on the back"))
    parts = [
        said
        for said, there in (("rings", split.ring_outer > 0), ("screws", split.screws), ("pins", split.pins))
        if there
    ]
    if parts:
        entries.append(([hidden], f"joint inside: {', '.join(parts)}"))
    return entries


def label_split(plan: Plan, view: View, size: tuple[float, float]) -> LabelRequest | None:
    """Return where the name of the plane may stand: above the panel, or on its right."""
    split = find_split(plan)
    if split is None:
        return None
    if split.axis == "x":
        return LabelRequest(view.to((split.at, plan.panel.height)), size, BEYOND + 4.0, (0.0, -1.0))
    return LabelRequest(view.to((plan.panel.width, split.at)), size, BEYOND + 4.0, (1.0, 0.0))


def split_boxes(plan: Plan, view: View) -> list[tuple[float, float, float, float]]:
    """Return what the joint takes of the picture, for labels to keep off, in picture units."""
    boxes = []
    for feature in _joint_features(plan) if find_split(plan) is not None else ():
        _, (x0, y0, x1, y1) = _outline(feature)
        boxes.append((*view.to((x0, y1)), *view.to((x1, y0))))
    return boxes


def _joint_features(plan: Plan) -> list[Feature]:
    """Return what the joint cuts: all of its kinds, without the pump's screws; wells first, for they are filled."""
    cut = [f for f in plan.detail.features if f.kind in JOINT and not f.name.startswith("pump ")]
    return sorted(cut, key=lambda feature: feature.kind != "screw well")


def _outline(feature: Feature) -> tuple[Loop, tuple[float, float, float, float]]:
    x0, y0, x1, y1 = cast_shadow(feature.shape)[0].bounds
    return outline_rectangle(x0, y0, x1, y1, 0.0), (x0, y0, x1, y1)


def _same(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return max(abs(p - q) for p, q in zip(a, b, strict=True)) < 1e3 * SAME_MM
