"""Walls round a port's thread: against hand calculation, a second way of measuring, and the standard's diameters."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.features import Detail
from geom.frame import Face
from geom.standards import tables
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.detail import detail_panel
from layouts.panel import Panel
from layouts.plan import PlacedPort, Routed
from layouts.rules.port_rules import check_torque
from layouts.rules.port_walls import PortThread, check_port_walls, cut_thread, measure_wall
from tests.layouts.sample_routed import HEIGHT, sample_back, sample_panel, sample_routed

PANEL, ROUTED = sample_panel(), sample_routed()


def finish(panel: Panel, routed: Routed) -> tuple[Panel, Routed, Detail]:
    gaps = clearances_of(panel)
    return panel, routed, detail_panel(panel, routed, close_panel(panel, routed, gaps), gaps)


def move(name: str, routed: Routed = ROUTED, **new: object) -> Routed:
    """Return the sample with a port changed and everything else where it was."""
    ports = tuple(replace(port, **new) if port.name == name else port for port in routed.ports)
    return replace(routed, ports=ports)


def edge_cut(thread: str, on: Face, at: tuple[float, float, float]) -> PortThread:
    port = PlacedPort("port", "part", "inlet", thread, on, at, at[:2], "channel", 30.0)
    return cut_thread(PANEL, replace(ROUTED, ports=(port,)), replace(port, channel="drain"), 12.0)


@pytest.mark.published(source="ISO 228-1 table 1: major diameters 9.728, 13.157, 16.662, 20.955 mm")
@pytest.mark.parametrize(
    ("thread", "major"), [("G1/8", "9.728"), ("G1/4", "13.157"), ("G3/8", "16.662"), ("G1/2", "20.955")]
)
def test_walls_start_at_the_largest_diameter(thread: str, major: str) -> None:
    """A slab 30 mm over the axis of an edge port stands 30 mm less half of it away."""
    cut = edge_cut(thread, "left", (0.0, 60.0, 10.0))
    wall, _ = measure_wall(cut, shapely.box(0, 0, 200, 140), 40.0, 50.0)
    assert_as_printed(2 * (30.0 - wall), major)


@pytest.mark.published(
    source="DIN 3852-2: spot faces 15, 19, 23, 27 mm over threads 9.728, 13.157, 16.662, 20.955 mm"
)
@pytest.mark.parametrize(("thread", "spot"), [("G1/8", 15), ("G1/4", 19), ("G3/8", 23), ("G1/2", 27)])
def test_a_spot_face_on_the_edge_leaves_the_wall_that_it_covers(thread: str, spot: int) -> None:
    """A port whose spot face just stays on the panel has the rest of it as its wall: over two pitches."""
    row = tables.thread(thread)
    assert_as_printed(row.spot_face, f"{spot}")
    routed = move("block a inlet", thread=thread, at=(spot / 2, 70.0, 20.0))
    panel = replace(PANEL, rules=replace(PANEL.rules, least_wall=10.0))
    (found,) = (
        f
        for f in check_port_walls(panel, routed, Detail((), (), ()))
        if "edge" in f.text and "block a inlet" in f.features[0]
    )
    assert found.value == pytest.approx((spot - row.major) / 2)
    assert found.value > 1.6 * row.pitch


def test_a_groove_over_an_edge_thread() -> None:
    """z 9.1: 9.1 - 13.157 / 2 - the groove of 1.5 mm leaves 1.02 mm; a pitch or the least wall are wanted."""
    routed = move("radiator inlet", at=(30.0, HEIGHT, 9.1))
    found = check_port_walls(*finish(PANEL, routed))
    (groove,) = (f for f in found if "groove" in f.text)
    assert groove.severity == "caution"
    assert groove.value == pytest.approx(9.1 - 13.157 / 2 - 1.5, abs=1e-6)
    assert groove.limit == 2.0
    assert groove.features == ("radiator inlet",)
    # Between the thread's lowest line and the groove's floor, where they cross.
    assert groove.at_mm is not None
    assert (groove.at_mm[0], groove.at_mm[2]) == pytest.approx((30.0, 1.5 + groove.value / 2), abs=1e-6)
    assert "thicker body" in groove.remedy
    # The walls of thin plates are at least a pitch, whatever the file asks for.
    thin = replace(PANEL, rules=replace(PANEL.rules, least_wall=0.5))
    (groove,) = (f for f in check_port_walls(*finish(thin, routed)) if "groove" in f.text)
    assert groove.limit == pytest.approx(1.3368, abs=1e-4)


@pytest.mark.published(source="ISO 228-1 clause 5: G1/4 thread 0.856 mm deep")
@pytest.mark.parametrize(("wall", "severity"), [(0.857, "caution"), (0.855, "fault")])
def test_a_wall_thinner_than_the_thread_is_deep_is_a_fault(wall: float, severity: str) -> None:
    routed = move("radiator inlet", at=(30.0, HEIGHT, 20.0 - 13.157 / 2 - wall))
    found = [f for f in check_port_walls(*finish(PANEL, routed)) if f.features == ("radiator inlet",)]
    (front,) = (f for f in found if "the body's front" in f.text)
    assert front.severity == severity
    assert front.value == pytest.approx(wall)


def test_the_pump_seat_over_the_drain() -> None:
    """The seat's floor lies at 18.5 mm, the drain's axis at 10.2 mm: 8.3 - 13.157 / 2 between."""
    (found,) = check_port_walls(*finish(PANEL, ROUTED))
    assert (found.severity, found.features) == ("caution", ("drain",))
    assert "and pump seat; 2 mm are wanted" in found.text
    assert found.value == pytest.approx(18.5 - 10.2 - 13.157 / 2)
    # It begins 7 mm from the edge: a short thread, 8.3 mm long, ends under it too.
    assert "short fittings" not in found.remedy
    pump = replace(PANEL.pump, seat_diameter=60.0)
    (found,) = check_port_walls(*finish(replace(PANEL, pump=pump), ROUTED))
    assert found.remedy.endswith("or tap it no deeper than 8.3 mm for short fittings.")


def test_a_thicker_body_and_other_coolant_are_quiet() -> None:
    pump = replace(PANEL.pump, seat_diameter=50.0)
    assert check_port_walls(*finish(replace(PANEL, pump=pump), ROUTED)) == ()
    panel, routed = sample_back()
    assert check_port_walls(*finish(replace(panel, pump=pump), routed)) == ()


def test_two_threads_across_a_corner_are_told_once_for_each() -> None:
    """A front port beside an edge port's thread: their axes pass each other 14 mm apart."""
    routed = move("block a outlet", at=(30.0 + 14.0, HEIGHT - 12.0, 20.0), foot=(44.0, 128.0))
    found = [f for f in check_port_walls(*finish(PANEL, routed)) if "that of port" in f.text]
    assert [f.value for f in found] == [pytest.approx(14.0 - 13.157, abs=2e-3)]
    assert set(found[0].features) == {"block a outlet", "radiator inlet"}


@settings(max_examples=60, deadline=None)
@given(
    st.tuples(st.floats(-30, 30), st.floats(-30, 30), st.floats(-25, 25)),
    st.tuples(st.floats(0.5, 20), st.floats(0.5, 20), st.floats(0.5, 10)),
    st.sampled_from(["left", "right", "top", "bottom"]),
)
def test_walls_agree_with_projections_between_the_two_bodies(
    corner: tuple[float, float, float], size: tuple[float, float, float], on: Face
) -> None:
    """Alternating projections onto the cylinder and the box come to their nearest points (both are convex)."""
    cut = edge_cut("G1/4", on, (0.0, 0.0, 0.0))
    box = shapely.box(corner[0], corner[1], corner[0] + size[0], corner[1] + size[1])
    wall, at = measure_wall(cut, box, corner[2], corner[2] + size[2])
    (ax, ay), (bx, by) = cut.axis
    length = math.dist(*cut.axis)
    ux, uy = (bx - ax) / length, (by - ay) / length
    p, apart = (ax, ay, 0.0), 0.0
    for _ in range(3000):
        q = tuple(min(max(p[k], corner[k]), corner[k] + size[k]) for k in range(3))
        along = min(max(q[0] * ux + q[1] * uy, 0.0), length)
        wide, up = -q[0] * uy + q[1] * ux, q[2]
        shrink = min(1.0, cut.radius / max(math.hypot(wide, up), 1e-12))
        p = (along * ux - shrink * wide * uy, along * uy + shrink * wide * ux, shrink * up)
        apart = math.dist(p, q)
    assert max(wall, 0.0) == pytest.approx(apart, abs=0.03)
    if wall > 0:
        # Told is the middle of the wall: half of it from the box, and half from the thread.
        to_box = math.hypot(*(max(corner[k] - at[k], at[k] - corner[k] - size[k], 0.0) for k in range(3)))
        along, wide = at[0] * ux + at[1] * uy, -at[0] * uy + at[1] * ux
        off = max(-along, along - length, 0.0)
        to_thread = math.hypot(off, max(math.hypot(wide, at[2]) - cut.radius, 0.0))
        assert (to_box, to_thread) == (pytest.approx(wall / 2, abs=0.05), pytest.approx(wall / 2, abs=0.05))


@pytest.mark.parametrize(
    ("body", "cover", "of"),
    [
        ("PMMA cast", "", "PMMA cast"),
        ("aluminium 6082-T6", "PC", None),
        ("POM-C", "aluminium 6082-T6", "POM-C"),
    ],
)
def test_torque_is_told_once_where_threads_are_in_plastic(body: str, cover: str, of: str | None) -> None:
    panel = replace(PANEL, make=replace(PANEL.make, material=body, cover_material=cover))
    found = check_torque(panel, ROUTED)
    assert [f.severity for f in found] == ["note"] * (of is not None)
    for finding in found:
        assert finding.text.startswith(f"{len(ROUTED.ports)} ports have their threads in {of}")
        assert finding.features == tuple(port.name for port in ROUTED.ports)
        assert "quarter turn" in finding.remedy


def test_torque_of_a_port_through_the_cover() -> None:
    panel, routed = sample_back()
    panel = replace(panel, make=replace(panel.make, material="aluminium 6082-T6", cover_material="PC"))
    (finding,) = check_torque(panel, routed)
    assert finding.text == "1 port has its thread in PC."
    assert finding.features == ("block b outlet",)


@pytest.mark.parametrize(
    ("z", "wall_to", "z_at"),
    [
        (20.0 - 13.157 / 2 - 1.0, "the body's front", 19.5),
        (13.157 / 2 + 1.0, "the body's back", 0.5),
        (1.5 + 13.157 / 2 + 1.2, "groove", 1.5 + 0.6),
    ],
)
def test_walls_over_and_under_an_edge_port_are_told_where_they_are(
    z: float, wall_to: str, z_at: float
) -> None:
    """An edge port planted too near the front, the joint, a groove: the middle of the wall that is left."""
    routed = move("radiator inlet", at=(30.0, HEIGHT, z))
    found = [f for f in check_port_walls(*finish(PANEL, routed)) if f.features == ("radiator inlet",)]
    (told,) = [f for f in found if wall_to in f.text]
    assert told.at_mm is not None
    x, y, at = told.at_mm
    assert (x, at) == pytest.approx((30.0, z_at), abs=0.01)
    # Its thread is 12 mm long.
    assert HEIGHT - 12.0 <= y <= HEIGHT


def test_the_wall_between_two_threads_is_told_where_it_is() -> None:
    """The front port's axis passes the edge port's 14 mm beside: the wall's middle is 7 mm from either."""
    routed = move("block a outlet", at=(30.0 + 14.0, HEIGHT - 5.0, 20.0), foot=(44.0, 128.0))
    (found,) = [f for f in check_port_walls(*finish(PANEL, routed)) if "that of port" in f.text][:1]
    assert found.at_mm is not None
    assert found.at_mm[0] == pytest.approx(37.0, abs=0.05)
    assert found.at_mm[1] == pytest.approx(HEIGHT - 5.0, abs=0.1)
