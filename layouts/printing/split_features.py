"""A split panel as blanks, cuts and rings of cord: two pieces side by side, and what their joint is made of."""

from __future__ import annotations

import math

from geom.features import Blank, Cylinder, Feature, Insert, Prism
from geom.frame import SAME_MM, Vec
from geom.outline import Line, Loop, Segment, outline_rectangle
from geom.standards import tables
from layouts.panel import Panel
from layouts.printing.printed import Split

INTO_WELL = 1.0
"""How far a clearance hole is cut into its well, so that it does not end in its wall, [mm]."""

WELL_CORNER = 0.25
"""Radius of a well's corners over its width."""

PIN_DIAMETER, PIN_LENGTH, PIN_PLAY = 4.0, 16.0, 0.5
"""Pins of ISO 2338, and how much deeper each of their holes is than half of one, [mm]."""


def list_pieces(panel: Panel, split: Split) -> tuple[Blank, ...]:
    """Return both pieces of a split panel as blanks: rounded at the panel's corners, straight at the plane.

    Parameters
    ----------
    panel : Panel
    split : Split
    """
    outer = outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius)
    first, second = split.pieces
    body = panel.make.body
    return (
        Blank(first, _keep_side(outer, split, -1.0), 0.0, body),
        Blank(second, _keep_side(outer, split, 1.0), 0.0, body),
    )


def cut_joint(panel: Panel, split: Split) -> tuple[Feature, ...]:
    """Return what the joint of a split cuts: ring grooves, screw holes with their wells, holes for pins.

    Parameters
    ----------
    panel : Panel
    split : Split
    """
    ahead, back = split.forward, _turn(split.forward)
    features = [
        Feature(
            f"ring groove {number}",
            "ring groove",
            "dry",
            Cylinder(one.at, back, split.ring_depth, split.ring_outer / 2, core=split.ring_inner / 2),
        )
        for number, one in enumerate(split.crossings, start=1)
    ]
    joint = split.screw
    if joint is not None:
        row = tables.screw(joint.name)
        for number, (at, well) in enumerate(zip(split.screws, split.wells, strict=True), start=1):
            tapped, through = (ahead, back) if well.forward else (back, ahead)
            x0, y0, x1, y1 = well.box
            corner = WELL_CORNER * min(x1 - x0, y1 - y0)
            hole, passage, pocket = (
                f"joint screw {number} {joint.name}",
                f"joint clearance {number}",
                f"screw well {number}",
            )
            tap = Cylinder(at, tapped, joint.hole_depth, row.tap_drill / 2)
            clear = Cylinder(at, through, joint.flange + INTO_WELL, row.clearance / 2)
            box = Prism((outline_rectangle(x0, y0, x1, y1, corner),), well.z0, well.z1)
            features += [
                Feature(
                    hole,
                    "screw hole",
                    "dry",
                    tap,
                    joins=(passage,),
                    thread=joint.name,
                    thread_depth=joint.engagement,
                ),
                Feature(passage, "clearance hole", "dry", clear, joins=(pocket,)),
                Feature(pocket, "screw well", "dry", box, opens=(well.on,)),
            ]
    for number, at in enumerate(split.pins, start=1):
        names = tuple(f"pin hole {number} {piece.removeprefix('panel ')}" for piece in split.pieces)
        for name, other, way in zip(names, reversed(names), (back, ahead), strict=True):
            shape = Cylinder(at, way, PIN_LENGTH / 2 + PIN_PLAY, PIN_DIAMETER / 2)
            features.append(Feature(name, "pin hole", "dry", shape, joins=(other,)))
    return tuple(features)


def list_rings(split: Split) -> tuple[Insert, ...]:
    """Return the squeezed rings of cord: as the pressure presses them, against the outer sides of their grooves.

    Parameters
    ----------
    split : Split
    """
    if not split.crossings:
        return ()
    cord = tables.cord(split.cord)
    width = math.pi * cord.section**2 / (4 * split.ring_depth)
    outer, back = split.ring_outer / 2, _turn(split.forward)
    return tuple(
        Insert(f"cord ring {number}", Cylinder(one.at, back, split.ring_depth, outer, core=outer - width))
        for number, one in enumerate(split.crossings, start=1)
    )


def _turn(way: Vec) -> Vec:
    x, y, z = way
    return 0.0 - x, 0.0 - y, 0.0 - z


def _keep_side(outer: Loop, split: Split, side: float) -> Loop:
    """Return what of an outline lies on one side of the plane, closed along it; the plane cuts lines alone."""
    axis = 0 if split.axis == "x" else 1
    kept: list[Segment] = []
    for segment in outer:
        a, b = ((end[axis] - split.at) * side for end in (segment.start, segment.end))
        if min(a, b) > -SAME_MM:
            kept.append(segment)
        elif max(a, b) > SAME_MM:
            cut = list(segment.start)
            cut[axis] = split.at
            at = (cut[0], cut[1])
            kept.append(Line(segment.start, at) if a > 0 else Line(at, segment.end))
    out: list[Segment] = []
    for segment, after in zip(kept, (*kept[1:], kept[0]), strict=True):
        out.append(segment)
        if math.dist(segment.end, after.start) > SAME_MM:
            out.append(Line(segment.end, after.start))
    return tuple(out)
