"""The rules of tubes, each red once and silent where nothing is wrong."""

from __future__ import annotations

from dataclasses import replace

from geom.findings import Finding
from layouts.case import Tubing
from layouts.rules.findings import find_rule
from layouts.rules.tube_rules import check_tube_moves, check_tube_room, check_tube_ways, say_move
from layouts.tubes.values import TooNear, TubeRun
from tests.layouts.sample_routed import sample_panel, sample_routed

PANEL = replace(sample_panel(), tubing=Tubing(10.0, 30.0, 6.0, 12.0))
ROUTED = sample_routed()
STRAIGHT = TubeRun(
    "tube 1", "block a inlet", "block a", ((60.0, 40.0, 26.0), (60.0, 40.0, 120.0)), (), 0.0, 94.0
)
STEP = TubeRun(
    "tube 2",
    "radiator inlet",
    "radiator",
    ((30.0, 146.0, 10.0), (30.0, 190.0, 10.0), (45.0, 210.0, 10.0), (45.0, 260.0, 10.0)),
    (36.9, 36.9),
    30.0,
    115.0,
)


def only(found: tuple[Finding, ...], code: str) -> Finding:
    (one,) = found
    assert (one.code, one.severity) == (code, "caution")
    assert one.source == find_rule(code).source
    return one


def test_nothing_is_said_of_tubes_that_fit():
    tubes = (STRAIGHT, STEP)
    assert check_tube_ways(PANEL, ROUTED, tubes) == ()
    assert check_tube_room(tubes) == ()
    assert check_tube_moves(PANEL, ROUTED, tubes) == ()


def test_a_port_that_no_tube_joins():
    none = replace(
        STRAIGHT, points=(), length=0.0, why_none="it is too far", cure_none="move the part nearer"
    )
    found = only(check_tube_ways(PANEL, ROUTED, (none, STEP)), "tube.none")
    assert found.text == 'Tube 1, from port "block a inlet" to "block a": no tube joins them: it is too far.'
    assert found.remedy == (
        'Move the part nearer; or join them with a hose and take meets out of [[part]] "block a", inlet.'
    )
    assert found.at_mm == (60.0, 40.0, 20.0)
    assert found.features == ("block a inlet",)


def test_a_tube_too_near_to_another():
    near = replace(STEP, near=(TooNear("tube 1", 6.25, 10.0, (30.0, 190.0, 10.0)),))
    found = only(check_tube_room((STRAIGHT, near)), "tube.close")
    assert "comes within 6.25 mm of tube 1, measured from its centreline, and needs 10 mm" in found.text
    assert (found.value, found.limit, found.unit, found.at_mm) == (6.25, 10.0, "mm", (30.0, 190.0, 10.0))


def test_a_move_that_makes_a_tube_straight():
    moved = replace(STEP, straight_by=(15.0, 0.0, 0.0))
    found = only(check_tube_moves(PANEL, ROUTED, (STRAIGHT, moved)), "tube.bend")
    assert "has 2 bends, and would be straight" in found.text
    assert found.remedy == (
        'Move port "radiator inlet" 15 mm right: write at = "45 mm" in place of between in [[part]] "radiator", inlet.'
    )
    assert (found.value, found.limit, found.unit) == (15.0, 20.0, "mm")


def test_a_move_on_the_front_is_written_as_the_file_has_it():
    moved = replace(STRAIGHT, points=(), length=0.0, straight_by=(-5.0, 10.0, 0.0))
    found = only(check_tube_moves(PANEL, ROUTED, (moved,)), "tube.bend")
    assert "does not fit, and would be straight" in found.text
    assert '5 mm left and 10 mm up: write at = ["55 mm", "50 mm"] in place of within' in found.remedy


def test_moves_in_words():
    assert say_move((2.5, 0.0, 0.0)) == "2.5 mm right"
    assert say_move((0.0, -5.0, 0.0)) == "5 mm down"
