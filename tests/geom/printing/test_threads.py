"""Threads as meshes, measured on what was made: diameters, flanks, the helix' advance, its hand."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.errors import GeometryError
from geom.printing.mesh_fits import ThreadCut
from geom.printing.threads import FLANK_DEG, ROUND_SHARE, make_helix, make_threads, trace_profile
from geom.standards import tables
from geom.standards.tables import HEIGHT_SHARE

ISO_228 = {
    "G1/8": ("0.907", "9.728", "9.147", "8.566"),
    "G1/4": ("1.337", "13.157", "12.301", "11.445"),
    "G3/8": ("1.337", "16.662", "15.806", "14.950"),
    "G1/2": ("1.814", "20.955", "19.793", "18.631"),
}
"""Pitch, major, pitch and minor diameter, [mm]."""

LENGTH = 10.0


def cut_block(name: str, clearance: float, mouth=(0.0, 0.0, 0.0), direction=(0.0, 0.0, 1.0)):
    """Return a block with a bore of the thread's minor diameter less a little, and the thread cut into it."""
    row = tables.thread(name)
    cut = ThreadCut("bore", mouth, direction, LENGTH, row.pitch, row.major, clearance)
    block = manifold3d.Manifold.cube((40.0, 40.0, 40.0), True).translate(
        tuple(m + 20.0 * d for m, d in zip(mouth, direction, strict=True))
    )
    return block - make_threads([cut])[0]


def radius_at(solid: manifold3d.Manifold, angle: float, z: float) -> float:
    """Return how far the wall of a bore round z stands off its axis, by a ray, [mm]."""
    far = (30.0 * math.cos(angle), 30.0 * math.sin(angle), z)
    hit = solid.ray_cast((0.0, 0.0, z), far)[0]
    return float(np.hypot(*np.asarray(hit.position)[:2]))


def walls_along(solid: manifold3d.Manifold, angle: float, start: float, end: float) -> np.ndarray:
    """Return (n, 2) float: z and the wall's distance from the axis there, [mm]."""
    heights = np.arange(start, end, 0.005)
    return np.array([(z, radius_at(solid, angle, z)) for z in heights])


@pytest.mark.published(
    source="ISO 228-1:1994, table 1: pitch, major, pitch and minor diameter of G1/8 to G1/2"
)
@pytest.mark.parametrize("name", ISO_228)
@pytest.mark.parametrize("clearance", [0.0, 0.3])
def test_diameters_of_the_made_thread_are_those_of_the_standard(name, clearance):
    pitch, major, pitch_diameter, minor = ISO_228[name]
    seen = walls_along(cut_block(name, clearance), 0.4, 3.0, 3.0 + 2.2 * float(pitch))
    # A chord lies up to 0.01 mm inside its circle.
    assert 2 * seen[:, 1].max() == pytest.approx(float(major) + clearance, abs=0.021)
    assert 2 * seen[:, 1].min() == pytest.approx(float(minor) + clearance, abs=0.021)
    # On the pitch line grooves and ridges are equally wide: half of the walls lie on either side of it.
    middle = (float(pitch_diameter) + clearance) / 2
    turns = seen[(seen[:, 0] - seen[0, 0]) < 2 * float(pitch)]
    assert np.mean(turns[:, 1] > middle) == pytest.approx(0.5, abs=0.02)


@pytest.mark.published(source="ISO 228-1:1994: right-handed, a pitch of 25.4 mm over the threads to an inch")
@pytest.mark.parametrize("name", ISO_228)
def test_a_crest_advances_one_pitch_a_turn_to_the_right(name):
    pitch = float(ISO_228[name][0])
    solid = cut_block(name, 0.0)
    crests = []
    for angle in (0.0, math.pi / 2, math.pi):
        seen = walls_along(solid, angle, 3.0, 3.0 + pitch)
        crests.append(seen[seen[:, 1] > seen[:, 1].max() - 1e-3, 0].mean())
    # Seen along the axis away from the eye a right-hand thread turns clockwise: z grows with the angle.
    for quarter, off in ((1, crests[1] - crests[0]), (2, crests[2] - crests[0])):
        assert (off - quarter * pitch / 4 + pitch / 2) % pitch - pitch / 2 == pytest.approx(0.0, abs=0.02)


@pytest.mark.published(source="ISO 228-1:1994: angle 55°, h = 0.640327 P, r = 0.137329 P, H = 0.960491 P")
def test_the_profile_is_the_rounded_whitworth_form():
    profile = trace_profile(1.0)
    assert_as_printed(float(np.ptp(profile[:, 1])), "0.640327")
    (x0, y0), (x1, y1) = profile[1], profile[2]
    assert math.degrees(math.atan((x1 - x0) / (y0 - y1))) == pytest.approx(FLANK_DEG, abs=1e-3)
    sharp = 1.0 / (2 * math.tan(math.radians(FLANK_DEG)))
    assert_as_printed(sharp, "0.960491")
    assert pytest.approx(sharp * 2 / 3, abs=1e-6) == HEIGHT_SHARE
    # The round touches the flank: its centre is a radius off the flank's line.
    centre = np.array([0.0, HEIGHT_SHARE / 2 - ROUND_SHARE])
    along = (profile[2] - profile[1]) / np.linalg.norm(profile[2] - profile[1])
    off = profile[1] - centre
    assert np.linalg.norm(off) == pytest.approx(ROUND_SHARE, abs=2e-6)
    assert off @ along == pytest.approx(0.0, abs=2e-6)


@settings(max_examples=12, deadline=None)
@given(
    pitch=st.floats(0.8, 2.5),
    share=st.floats(5.0, 12.0),
    length=st.floats(2.0, 12.0),
)
def test_a_rod_is_closed_and_holds_what_its_profile_says(pitch, share, length):
    diameter = share * pitch
    rod = make_helix(pitch, diameter, length)
    profile = np.vstack((trace_profile(pitch), [(pitch, HEIGHT_SHARE * pitch / 2)]))
    along = np.linspace(0.0, pitch, 4001)
    squares = (diameter / 2 + np.interp(along, profile[:, 0], profile[:, 1])) ** 2
    assert rod.status() == manifold3d.Error.NoError
    assert rod.genus() == 0
    assert rod.volume() == pytest.approx(math.pi * squares.mean() * length, rel=0.006)


@pytest.mark.parametrize("direction", [(1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0), (0.6, 0.0, 0.8)])
def test_the_hand_is_the_same_along_any_axis(direction):
    """Seen along the bore the crest turns clockwise as it goes on: no axis mirrors it."""
    row = tables.thread("G1/4")
    cut = ThreadCut("bore", (0.0, 0.0, 0.0), direction, LENGTH, row.pitch, row.major)
    mesh = make_threads([cut])[0].to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3]
    axis = np.asarray(direction)
    across = np.cross(axis, (0.3, 1.0, 0.2))
    across /= np.linalg.norm(across)
    other = np.cross(axis, across)
    along, radius = points @ axis, np.hypot(points @ across, points @ other)
    crest = (np.abs(radius - row.major / 2) < 0.01) & (along > 1.0) & (along < LENGTH - 2.0)
    angle = np.arctan2(points[crest] @ other, points[crest] @ across) / (2 * math.pi)
    phase = np.exp(2j * math.pi * (along[crest] / row.pitch - angle))
    assert abs(phase.mean()) > 0.99


def test_a_thread_shorter_than_its_height_is_refused():
    row = tables.thread("G1/4")
    with pytest.raises(GeometryError, match=r"port stub: 0\.5 mm of thread is less than the 0\.856 mm"):
        make_threads([ThreadCut("port stub", (0, 0, 0), (0, 0, 1), 0.5, row.pitch, row.major)])
