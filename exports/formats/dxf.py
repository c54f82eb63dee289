"""What is cut in one set-up as 2D profiles for CAM: DXF R2010, mm, true arcs, a layer for each depth.

The drawing is the part's face as one who stands before it sees it: u to the right, v up, origin at its lower left
corner. Layers:

- ``OUTLINE 22.00``: the part's own outline, and how deep it goes.
- ``POCKET 9.00``, ``POCKET 9.00 FROM 2.00``: closed profiles, cut to a floor that deep under the face, from there or
  from a depth that is open already. An outline inside another is left standing.
- ``BORE 11.80 DEEP 18.50``, ``BORE 4.50 THROUGH``, ``... FROM 2.00``: circles; the depth is that under the face.
- ``FACE``: the border of a face whose outline is not cut in this set-up, to find the origin by; nothing is cut.
- ``NOTES``: what the set-up is, how it is seen, and the threads and chamfers of the bores.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from exports.formats.dxf_bytes import document_bytes, new_document
from exports.wording.milling_words import tell_axes
from geom.outline import Arc, Loop
from layouts.milling.placed_cuts import face_border
from layouts.milling.profiles import DEPTH_DIGITS, Profile, list_profiles
from layouts.milling.work import Hole, SetUp

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace

NOTES, FACE = "NOTES", "FACE"
GREY = 8
"""Colour number of the layer FACE."""

TEXT_MM = 3.0
CALLOUT_MM = 2.0
"""Heights of letters."""

COLOURS = (5, 3, 1, 6, 30, 4, 2, 200, 94, 40)
"""Colour numbers of the layers, shallow to deep, from the first again where there are more."""

LARGEST_ARC = math.pi * 1.01
"""Of one bulge: beyond half a turn readers lose digits."""


def dxf_name(setup: SetUp) -> str:
    """Return the file name of a set-up: "body-back.dxf"."""
    return f"{setup.part.replace(' ', '-')}-{setup.face}.dxf"


def write_dxf(path: Path, title: str, number: int, setup: SetUp, setups: tuple[SetUp, ...] = ()) -> None:
    """Write a set-up's profiles.

    Parameters
    ----------
    path : Path
    title : str
        The panel's name.
    number : int
        Of the set-up, from 1.
    setup : SetUp
        [mm].
    setups : tuple of SetUp
        All: the border of a face is the outline that another set-up cuts.
    """
    document = new_document()
    profiles = list_profiles(setup)
    layers = list_layers(setup, profiles)
    for k, layer in enumerate(layers):
        document.layers.add(layer, color=COLOURS[k % len(COLOURS)])
    document.layers.add(NOTES)
    space = document.modelspace()
    if setup.outline is not None:
        _add_loop(space, setup.outline, outline_layer(setup))
    else:
        document.layers.add(FACE, color=GREY)
        _add_loop(space, face_border(setups, setup), FACE)
    for profile in profiles:
        for loop in profile.loops:
            _add_loop(space, loop, pocket_layer(profile))
    for hole in setup.holes:
        space.add_circle(hole.at, hole.diameter / 2, dxfattribs={"layer": bore_layer(hole)})
    _add_notes(space, title, number, setup)
    path.write_bytes(document_bytes(document))


def list_layers(setup: SetUp, profiles: tuple[Profile, ...]) -> tuple[str, ...]:
    """Return the names of the layers of a set-up, shallow to deep, bores after pockets, the outline last."""
    names = [pocket_layer(profile) for profile in profiles]
    names += [
        bore_layer(h) for h in sorted(setup.holes, key=lambda h: (h.top + h.depth, h.diameter, h.through))
    ]
    if setup.outline is not None:
        names.append(outline_layer(setup))
    return tuple(dict.fromkeys(names))


def pocket_layer(profile: Profile) -> str:
    """Return the layer of a profile: "POCKET 9.00", or "POCKET 9.00 FROM 2.00"."""
    return f"POCKET {_show(profile.floor)}{_from(profile.top)}"


def bore_layer(hole: Hole) -> str:
    """Return the layer of a bore: "BORE 11.80 DEEP 18.50", or "BORE 4.50 THROUGH"."""
    how = "THROUGH" if hole.through else f"DEEP {_show(hole.top + hole.depth)}"
    return f"BORE {_show(hole.diameter)} {how}{_from(hole.top)}"


def outline_layer(setup: SetUp) -> str:
    """Return the layer of a part's outline: "OUTLINE 22.00"."""
    return f"OUTLINE {_show(setup.height)}"


def _show(value: float) -> str:
    return f"{value:.{DEPTH_DIGITS}f}"


def _from(top: float) -> str:
    return f" FROM {_show(top)}" if round(top, DEPTH_DIGITS) > 0.0 else ""


def _add_loop(space: Modelspace, loop: Loop, layer: str) -> None:
    """Add a closed outline: a circle, or a polyline whose arcs are bulges."""
    first = loop[0]
    if len(loop) == 1 and isinstance(first, Arc) and first.is_whole:
        space.add_circle(first.centre, first.radius, dxfattribs={"layer": layer})
        return
    points: list[tuple[float, float, float]] = []
    for s in loop:
        if not isinstance(s, Arc):
            points.append((*s.start, 0.0))
            continue
        pieces = max(1, math.ceil(abs(s.sweep) / LARGEST_ARC))
        bulge = math.tan(s.sweep / pieces / 4)
        points += [(*s.at(k / pieces), bulge) for k in range(pieces)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": layer})


def _add_notes(space: Modelspace, title: str, number: int, setup: SetUp) -> None:
    lines = (
        f"{title}: {setup.part}, set-up {number}: {setup.face} face up",
        "1:1, mm, seen from above: u right, v up, origin at the lower left corner of the face",
        tell_axes(setup),
        f"stands {_show(setup.height)} high; layers are named by their depth under this face",
    )
    for k, line in enumerate(lines):
        at = (0.0, -2.0 * TEXT_MM - 1.6 * TEXT_MM * k)
        space.add_text(line, height=TEXT_MM, dxfattribs={"layer": NOTES, "insert": at})
    for hole in setup.holes:
        said = callout(hole)
        if said:
            at = (hole.at[0] + hole.diameter / 2 + 1.0, hole.at[1] - CALLOUT_MM / 2)
            space.add_text(said, height=CALLOUT_MM, dxfattribs={"layer": NOTES, "insert": at})


def callout(hole: Hole) -> str:
    """Return what a bore needs beyond its circle: "G1/4 12.00 deep, chamfer 0.70"; empty where nothing."""
    said = [f"{hole.thread} {_show(hole.top + hole.thread_depth)} deep"] if hole.thread else []
    if hole.chamfer > 0.0:
        said.append(f"chamfer {_show(hole.chamfer)}")
    return ", ".join(said)
