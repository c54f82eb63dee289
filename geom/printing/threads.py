"""Pipe threads as solids of the mesh kernel, to be cut from what is printed.

The profile is the rounded Whitworth form of ISO 228-1: flanks at 27.5 degrees to the axis' normal, crests and roots
rounded, each by one corner at its very top, so that major, pitch and minor diameters are the standard's. Only
meshes have it: in the kernel of solids a helix fails, and what is tapped needs none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import manifold3d
import numpy as np

from geom.errors import GeometryError
from geom.printing.mesh_fits import ThreadCut
from geom.rebuild import find_frame
from geom.standards.tables import HEIGHT_SHARE

ROUND_SHARE = 0.137329
"""Radius of crests and roots over the pitch; ISO 228-1."""

FLANK_DEG = 27.5
"""Half of the angle between the flanks; ISO 228-1."""

BEYOND_MM = 0.4
"""How far a cutter stands out of the mouth: none of its corners may lie in a face of the part, nor in the outer face
in front of a spot face."""

PAST_MM = 0.2
"""How far a cutter goes on past its roots at either end: what ends on them would leave slivers."""

LEAD_MM = 0.05
"""How far the lead stands over the crests at the mouth, on the radius."""

THREAD_SAG_MM = 0.01
"""How far a chord of a thread may lie inside its circle: a twentieth of what prints are off."""


def make_threads(cuts: Sequence[ThreadCut]) -> tuple[manifold3d.Manifold, ...]:
    """Return the solids that cut internal threads.

    Parameters
    ----------
    cuts : sequence of ThreadCut

    Returns
    -------
    tuple of manifold3d.Manifold
        In the order of the cuts, right-handed, with a lead-in of 45 degrees at the mouth.

    Raises
    ------
    GeometryError
        Where a thread is shorter than its own height.

    Source
    ------
    ISO 228-1, basic profile.
    """
    upright: dict[tuple[float, ...], manifold3d.Manifold] = {}
    made = []
    for cut in cuts:
        if cut.length <= cut.height:
            raise GeometryError(
                f"{cut.name}: {cut.length:.3g} mm of thread is less than the {cut.height:.3g} mm of its height; "
                f'set port_threads = "tapped" in [printing], or make the bore longer'
            )
        key = (cut.length, cut.pitch, cut.major, cut.clearance)
        if key not in upright:
            upright[key] = _make_upright(cut)
        made.append(upright[key].transform(find_frame(cut.mouth, cut.direction)))
    return tuple(made)


def trace_profile(pitch: float) -> np.ndarray:
    """Return one pitch of the thread's profile.

    Parameters
    ----------
    pitch : float
        [mm]

    Returns
    -------
    numpy.ndarray
        (6, 2) float: place along the axis from a crest on, and how far it stands over the pitch line, [mm].

    Source
    ------
    ISO 228-1, basic profile; crests and roots touch the flanks.
    """
    flank = math.radians(FLANK_DEG)
    along = ROUND_SHARE * math.cos(flank)
    touch = HEIGHT_SHARE / 2 - ROUND_SHARE * (1 - math.sin(flank))
    top = HEIGHT_SHARE / 2
    return pitch * np.array(
        [
            (0.0, top),
            (along, touch),
            (0.5 - along, -touch),
            (0.5, -top),
            (0.5 + along, -touch),
            (1.0 - along, touch),
        ]
    )


def make_helix(pitch: float, pitch_diameter: float, length: float) -> manifold3d.Manifold:
    """Return a threaded rod round the z axis, right-handed, from z = 0 up.

    Parameters
    ----------
    pitch, pitch_diameter, length : float
        [mm]

    Returns
    -------
    manifold3d.Manifold
        Its ends are plane.
    """
    profile = trace_profile(pitch)
    most = pitch_diameter / 2 + HEIGHT_SHARE * pitch / 2
    chords = _count_chords(most)
    turns = math.ceil(length / pitch) + 3
    along = (np.arange(turns)[:, None] - 2) * pitch + profile[:, 0]
    along = np.append(along.ravel(), (turns - 2) * pitch)
    radius = pitch_diameter / 2 + np.append(np.tile(profile[:, 1], turns), profile[0, 1])
    angles = 2 * math.pi * np.arange(chords) / chords
    # A turn further on a crest stands one pitch higher: the last column joins the first, a profile later.
    rise = pitch * np.arange(chords) / chords
    x, y = np.cos(angles)[:, None] * radius, np.sin(angles)[:, None] * radius
    skin = np.stack((x, y, along + rise[:, None]), axis=-1).reshape(-1, 3)
    rows, samples = len(along), len(profile)
    number = np.arange(chords * rows).reshape(chords, rows)
    bottom, top = chords * rows, chords * rows + 1
    here, there = number[:-1], number[1:]
    quads = [(here[:, :-1], there[:, :-1], there[:, 1:], here[:, 1:])]
    last, first = number[-1, : rows - samples], number[0, samples:]
    quads.append((last[:-1], first[:-1], first[1:], last[1:]))
    triangles = []
    for a, b, c, d in quads:
        triangles += [np.stack(tri, axis=-1).reshape(-1, 3) for tri in ((a, b, c), (a, c, d))]
    # Both ends are closed towards the axis, far enough off to be cut away.
    low = np.concatenate((number[:, 0], number[0, samples::-1]))
    high = np.concatenate((number[:1, -1], number[-1, rows - 1 - samples :], number[-2::-1, -1]))
    for rim, apex in ((low, bottom), (high, top)):
        triangles.append(np.stack((rim[1:], rim[:-1], np.full(len(rim) - 1, apex)), axis=-1))
    axis = np.array([(0.0, 0.0, along[0] - pitch), (0.0, 0.0, along[-1] + 2 * pitch)])
    mesh = manifold3d.Mesh64(np.vstack((skin, axis)), np.vstack(triangles).astype(np.uint64))
    rod = manifold3d.Manifold(mesh)
    if rod.status() != manifold3d.Error.NoError or rod.volume() <= 0:
        raise GeometryError(f"a thread of {pitch:.3g} mm pitch is no closed skin ({rod.status().name})")
    return rod.trim_by_plane((0.0, 0.0, 1.0), 0.0).trim_by_plane((0.0, 0.0, -1.0), -length)


def _make_upright(cut: ThreadCut) -> manifold3d.Manifold:
    """Return the cutter with its mouth at the origin, along z."""
    widest = (cut.major + cut.clearance) / 2
    least = widest - cut.height
    end = cut.length + PAST_MM
    rod = make_helix(cut.pitch, cut.major + cut.clearance - cut.height, end + PAST_MM)
    chords = _count_chords(widest)
    # The crests fade at 45 degrees towards the bore: what hangs over in the print carries itself.
    hull = [
        (0.0, -1.0),
        (widest + 1.0, -1.0),
        (widest + 1.0, cut.length - cut.height - 1.0),
        (least - PAST_MM, end),
        (0.0, end),
    ]
    wide = widest + LEAD_MM
    lead = [(0.0, -BEYOND_MM), (wide + BEYOND_MM, -BEYOND_MM), (0.0, wide)]
    faded = rod.translate((0.0, 0.0, -PAST_MM)) ^ manifold3d.CrossSection([hull]).revolve(chords)
    cutter = faded + manifold3d.CrossSection([lead]).revolve(chords)
    # The kernel works when it is asked: once here, not again for each port.
    if cutter.is_empty():
        raise GeometryError(f"{cut.name}: its thread came out empty; report this panel")
    return cutter


def _count_chords(radius: float) -> int:
    """Return the chords to a circle: a multiple of four, so that opposite places are alike."""
    return 4 * math.ceil(math.pi / math.acos(1 - THREAD_SAG_MM / radius) / 4)
