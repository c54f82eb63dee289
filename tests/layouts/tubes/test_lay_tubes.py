"""Tubes of a whole panel: which port meets which in the case, clear of all, and moves that make one straight."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.frame import Vec
from layouts.case import Case, MeetingPort, Tubing
from layouts.panel import Panel, Port
from layouts.tubes.ends import part_end
from layouts.tubes.lay_tubes import lay_tubes
from layouts.tubes.values import TubeRun
from tests.layouts.sample_routed import sample_panel, sample_routed

ROUTED = sample_routed()
TUBING = Tubing(outer=10.0, bend_radius=30.0, stop=6.5, insertion=12.0)
# A front port's fitting sits in a spot face 0.5 mm deep: its tube ends 6 mm over the face.
DOWN = (0.0, 0.0, -1.0)


def meeting(panel: Panel | None = None, tubing: Tubing | None = TUBING, **meets: tuple[Vec, Vec]) -> Panel:
    """Return the sample panel with parts' ports that are met: `block_a_inlet=(at, faces)`."""
    panel = panel or sample_panel()

    def join(port: Port) -> Port:
        given = meets.get(port.name.replace(" ", "_"))
        return port if given is None else replace(port, meets=MeetingPort(*given))

    parts = tuple(replace(part, inlet=join(part.inlet), outlet=join(part.outlet)) for part in panel.parts)
    return replace(panel, parts=parts, tubing=tubing)


def lay_one(panel: Panel) -> TubeRun:
    (tube,) = lay_tubes(panel, ROUTED)
    return tube


def free(panel: Panel, name: str, box: tuple[float, float, float, float]) -> Panel:
    """Return the panel with a port left to the solver, within a box of the front."""

    def let(port: Port) -> Port:
        return replace(port, at=None, within=box) if port.name == name else port

    parts = tuple(replace(part, inlet=let(part.inlet), outlet=let(part.outlet)) for part in panel.parts)
    return replace(panel, parts=parts)


def test_without_ports_to_meet_or_tubing_there_are_none():
    assert lay_tubes(sample_panel(), ROUTED) == ()
    assert lay_tubes(replace(sample_panel(), tubing=TUBING), ROUTED) == ()


def test_a_straight_tube_runs_from_stop_to_stop():
    tube = lay_one(meeting(block_a_inlet=((60.0, 40.0, 120.0), DOWN)))
    assert (tube.name, tube.port, tube.part) == ("tube 1", "block a inlet", "block a")
    assert tube.points == ((60.0, 40.0, 26.0), (60.0, 40.0, 120.0))
    assert (tube.bends, tube.bend_radius, tube.length) == ((), 0.0, pytest.approx(94.0))
    assert (tube.near, tube.why_none, tube.straight_by) == ((), "", None)


def test_a_tube_from_an_edge_round_a_corner():
    z = next(port.at[2] for port in ROUTED.ports if port.name == "radiator inlet")
    tube = lay_one(meeting(radiator_inlet=((130.0, 240.0, z), (-1.0, 0.0, 0.0))))
    assert tube.points[1] == pytest.approx((30.0, 240.0, z))
    assert tube.bends == pytest.approx((90.0,))
    # On an edge the milled edge is the seat.
    assert tube.length == pytest.approx((240 - 146.5) + (130 - 30) - 60 + math.pi * 15)


def test_tubes_stand_in_the_order_of_the_ports_with_their_numbers():
    panel = meeting(
        block_b_inlet=((90.0, 20.0, 120.0), DOWN),
        block_a_inlet=((200.0, 40.0, 170.0), (0.0, 1.0, 0.0)),
        block_a_outlet=((30.0, 60.0, 120.0), DOWN),
    )
    assert [(tube.name, tube.port, len(tube.bends)) for tube in lay_tubes(panel, ROUTED)] == [
        ("tube 1", "block a inlet", 2),
        ("tube 2", "block a outlet", 0),
        ("tube 3", "block b inlet", 0),
    ]


@pytest.mark.parametrize(
    ("at", "faces", "tubing", "why"),
    [
        ((60.0, 40.0, 10.0), DOWN, TUBING, "the part's port lies inside the panel"),
        (
            (60.0, 40.0, 49.0),
            DOWN,
            TUBING,
            "its ends stand 23 mm apart, and 24 mm of it go into the fittings",
        ),
        (
            (70.0, 40.0, 120.0),
            DOWN,
            replace(TUBING, bend_radius=None),
            "its ends are not in line, and [tube] gives no bend_radius",
        ),
    ],
)
def test_why_there_is_no_tube(at, faces, tubing, why):
    tube = lay_one(meeting(tubing=tubing, block_a_inlet=(at, faces)))
    assert tube.why_none.startswith(why)
    assert tube.cure_none
    assert (tube.points, tube.bends, tube.length) == ((), (), 0.0)


def test_where_no_bends_fit_that_is_told(monkeypatch):
    for number in ("two", "three"):
        monkeypatch.setattr(f"layouts.tubes.lay_tubes.find_{number}_bends", lambda *_: None)
    tube = lay_one(meeting(block_a_inlet=((90.0, 70.0, 120.0), DOWN)))
    assert tube.why_none == (
        "no three bends of 30 mm, with 22 mm straight at each end, fit between its ends, 103 mm apart"
    )


def test_just_both_insertions_are_enough():
    assert lay_one(meeting(block_a_inlet=((60.0, 40.0, 50.0), DOWN))).length == pytest.approx(24.0)


AXES = st.tuples(*(st.floats(-1.0, 1.0) for _ in range(3))).filter(lambda way: math.hypot(*way) > 0.2)


@settings(deadline=None, max_examples=15)
@given(AXES, AXES, st.tuples(*(st.floats(-500.0, 500.0) for _ in range(3))))
def test_where_the_case_has_its_origin_changes_nothing(first: Vec, second: Vec, origin: Vec):
    """The case turned and moved, and the parts' ports with it: the same tubes in the panel frame."""
    right = np.array(first) / np.linalg.norm(first)
    front = np.cross(right, np.array(second))
    if np.linalg.norm(front) < 0.1:
        return
    front = front / np.linalg.norm(front)
    turn = np.stack([right, np.cross(front, right), front], axis=1)
    own = {
        "block_a_inlet": ((200.0, 60.0, 170.0), (0.0, 1.0, 0.0)),
        "block_b_outlet": ((75.0, 95.0, 140.0), DOWN),
        "radiator_inlet": ((130.0, 240.0, 10.0), (-1.0, 0.0, 0.0)),
    }
    moved = {
        name: (
            tuple((turn @ np.array(at) + np.array(origin)).tolist()),
            tuple((turn @ np.array(out)).tolist()),
        )
        for name, (at, out) in own.items()
    }
    case = Case(origin, tuple(right.tolist()), tuple(front.tolist()))
    here = lay_tubes(meeting(**own), ROUTED)
    there = lay_tubes(replace(meeting(**moved), case=case), ROUTED)
    assert len(here) == 3
    for a, b in zip(here, there, strict=True):
        assert b.length == pytest.approx(a.length, abs=2e-3)
        assert b.bends == pytest.approx(a.bends, abs=0.05)


def test_the_case_turned_by_hand():
    """A panel that lies on its back on the floor of the case, turned: its x runs along the case's z, its z up."""
    case = Case((10.0, 20.0, 30.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
    end = part_end(case, MeetingPort((11.0, 22.0, 33.0), (1.0, 0.0, 0.0)))
    # y of the panel is z x x: along the case's x.
    assert end.at == (3.0, 1.0, 2.0)
    assert end.out == (0.0, 1.0, 0.0)


def test_a_second_tube_leads_round_the_first():
    """A straight tube stands in the plane of another's corner; what is laid for that keeps off it."""
    alone = meeting(block_a_inlet=((60.0, 170.0, 90.0), (0.0, -1.0, 0.0)))
    crossing = meeting(
        block_a_inlet=((60.0, 170.0, 90.0), (0.0, -1.0, 0.0)),
        block_b_outlet=((60.0, 80.0, 160.0), DOWN),
    )
    assert len(lay_one(alone).bends) == 1
    bent, straight = lay_tubes(crossing, ROUTED)
    assert straight.bends == ()
    assert (bent.near, straight.near) == ((), ())
    assert len(bent.bends) == 2 or len(bent.bends) == 3
    assert bent.length > lay_one(alone).length


def test_a_way_that_is_shut_in_is_told_of():
    """The part's port stands over the pump: its height is not known, and no bends help."""
    tube = lay_one(meeting(block_a_inlet=((130.0, 40.0, 90.0), (-1.0, 0.0, 0.0))))
    (near,) = tube.near
    assert near.what == "the pump"
    assert len(tube.bends) == 1


@pytest.mark.parametrize("away", [(5.0, 0.0), (0.0, -10.0), (5.0, 10.0)])
def test_a_free_port_a_small_move_from_straight(away: tuple[float, float]):
    at = (60.0 + away[0], 40.0 + away[1], 140.0)
    panel = meeting(free(sample_panel(), "block a inlet", (40.0, 25.0, 80.0, 60.0)), block_a_inlet=(at, DOWN))
    tube = lay_one(panel)
    assert len(tube.bends) == 2
    assert tube.straight_by == (*away, 0.0)


@pytest.mark.parametrize(
    ("at", "box"),
    [
        # Past its range; more than 20 mm; off the grid; where block b's inlet needs the spanner's room.
        ((75.0, 40.0, 140.0), (40.0, 25.0, 70.0, 60.0)),
        ((40.0, 25.0, 140.0), (40.0, 25.0, 80.0, 60.0)),
        ((67.0, 40.0, 140.0), (40.0, 25.0, 80.0, 60.0)),
        ((75.0, 30.0, 140.0), (40.0, 25.0, 80.0, 60.0)),
    ],
)
def test_no_move_that_is_not_small_straight_and_allowed(at: Vec, box: tuple[float, float, float, float]):
    panel = meeting(free(sample_panel(), "block a inlet", box), block_a_inlet=(at, DOWN))
    tube = lay_one(panel)
    assert tube.bends
    assert tube.straight_by is None


def test_no_move_into_a_keep_clear_region():
    at = (60.0, 50.0, 140.0)
    panel = meeting(free(sample_panel(), "block a inlet", (40.0, 25.0, 80.0, 60.0)), block_a_inlet=(at, DOWN))
    assert lay_one(panel).straight_by == (0.0, 10.0, 0.0)
    (region,) = panel.keep_clear
    shut = replace(panel, keep_clear=(region, replace(region, name="bracket", box=(50.0, 52.0, 70.0, 60.0))))
    assert lay_one(shut).straight_by is None


def test_a_fixed_port_is_not_moved_and_an_edges_moves_along_it():
    assert lay_one(meeting(block_a_inlet=((65.0, 40.0, 140.0), DOWN))).straight_by is None
    z = next(port.at[2] for port in ROUTED.ports if port.name == "radiator inlet")
    tube = lay_one(meeting(radiator_inlet=((40.0, 260.0, z), (0.0, -1.0, 0.0))))
    assert len(tube.bends) == 2
    assert tube.straight_by == (10.0, 0.0, 0.0)
