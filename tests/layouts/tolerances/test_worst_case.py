"""Squeeze, room and screws at the worst of the class: planted faults, and the demos."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from sample_demos import plan_demo
from sample_plan import sample_plan

from geom.standards.tables import cord, thread
from layouts.clearance import port_axis_z
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan
from layouts.rules.seal_rules import check_groove_bends
from layouts.rules.tolerance_rules import (
    check_tolerance_rooms,
    check_tolerance_screws,
    check_tolerance_seal,
)
from layouts.strength.screw_hole import widest_hole
from layouts.tolerances.fittings import worst_rooms
from layouts.tolerances.screws import fastener_zone, worst_screw
from layouts.tolerances.seal import worst_seals

DEMOS = (*demo_names(), "new")


def graded(plan: Plan, grade: str) -> Plan:
    return replace(plan, panel=replace(plan.panel, make=replace(plan.panel.make, tolerance=grade)))


@pytest.mark.parametrize("name", DEMOS)
def test_demos_have_notes_at_most(name: str):
    found = [f for f in plan_demo(name).findings if f.code.startswith("tolerance.")]
    assert {f.severity for f in found} <= {"note"}


def test_squeeze_by_the_class_against_random_grooves():
    plan = plan_demo("new")
    (seal,) = worst_seals(plan.panel, plan.sealed)
    row, rng = cord(2.0), np.random.default_rng(3)
    off = 2 * rng.beta(0.15, 0.15, (3, 40_000)) - 1
    # Class m: 0.1 on depth and width; the cord's own 0.08.
    depth, width, section = (
        row.groove_depth + 0.1 * off[0],
        row.groove_width + 0.1 * off[1],
        2.0 + 0.08 * off[2],
    )
    squeeze, fill = 1 - depth / section, math.pi / 4 * section**2 / (depth * width)
    assert seal.by_class[0] - 1e-9 <= squeeze.min() <= seal.by_class[0] + 0.005
    assert seal.by_class[1] - 0.005 <= squeeze.max() <= seal.by_class[1] + 1e-9
    assert seal.fill_by_class - 0.01 <= fill.max() <= seal.fill_by_class + 1e-9


def test_the_groove_is_called_out_where_the_class_does_not_hold_it():
    plan = plan_demo("new")
    (found,) = check_tolerance_seal(plan.panel, plan.sealed)
    assert (found.code, found.severity) == ("tolerance.squeeze", "note")
    assert "1.5 mm deep (+0.1/0) and 2.8 mm wide (+0.2/0)" in found.remedy
    assert found.value == pytest.approx(100 * (1 - 1.4 / 2.08))
    assert found.at_mm == (*plan.sealed.loops[0].path[0].start, 0.0)
    # A thick cord, and 0.05 mm: nothing to call out.
    fine = graded(plan, "f")
    thick = replace(fine.panel, make=replace(fine.panel.make, cord=3.53))
    assert check_tolerance_seal(thick, plan.sealed) == ()


def test_faces_off_flat_take_the_squeeze():
    plan = graded(plan_demo("new"), "mK")
    (seal,) = worst_seals(plan.panel, plan.sealed)
    # K over the 30 to 100 mm between screws: 0.2 mm for each face.
    assert 30 < seal.span <= 100
    assert seal.squeeze[0] == pytest.approx(1 - (1.6 + 0.4) / 1.92)
    (found,) = check_tolerance_seal(plan.panel, plan.sealed)
    assert (found.severity, found.limit) == ("caution", 15)
    assert "0.02 mm of flatness" in found.remedy
    # At the flatness that is told the squeeze is just enough.
    assert 1 - (1.6 + 2 * seal.most_off) / 1.92 == pytest.approx(0.145)


@pytest.mark.parametrize("grade", ["mH", "mK", "mL", "fH"])
@pytest.mark.parametrize("name", ["new", "workshop-render"])
def test_what_cures_faces_off_flat_cures_them_and_lets_the_cord_turn(name: str, grade: str):
    """Neither a cord too thick to turn, nor one that is told to be thinner by the rule on turns, nor no cure at all."""
    plan, offered = graded(plan_demo(name), grade), set()
    for section in (1.5, 1.78, 2.0, 2.5, 3.0, 3.53, 4.0, 5.33):
        panel = replace(plan.panel, make=replace(plan.panel.make, cord=section))
        for found in check_tolerance_seal(panel, plan.sealed):
            if found.severity == "note":
                continue
            cures = {
                "cord": re.search(r"use a cord of ([\d.]+) mm", found.remedy),
                "tolerance": re.search(r'set tolerance = "(\w+)" in', found.remedy),
                "dropped": re.search(r'out \(tolerance = "(\w)" in', found.remedy),
            }
            assert cures["dropped"] is not None
            for key, cure in cures.items():
                if cure is None:
                    continue
                offered.add(key)
                new = {"cord": float(cure[1])} if key == "cord" else {"tolerance": cure[1]}
                cured = replace(panel, make=replace(panel.make, **new))
                assert all(f.severity == "note" for f in check_tolerance_seal(cured, plan.sealed)), new
                if key == "cord":
                    assert all(f.severity == "note" for f in check_groove_bends(cured, plan.sealed)), new
    assert "dropped" in offered


def test_the_flatness_that_is_told_is_never_more_than_it_may_be():
    plan = graded(plan_demo("new"), "mL")
    for section in (1.5, 1.78, 2.0, 2.5, 2.62, 3.0, 3.53, 4.0):
        panel = replace(plan.panel, make=replace(plan.panel.make, cord=section))
        (seal,) = worst_seals(panel, plan.sealed)
        (found,) = check_tolerance_seal(panel, plan.sealed)
        told = float(re.search(r"([\d.]+) mm of flatness", found.remedy)[1])
        assert seal.most_off - 1e-3 < told <= seal.most_off + 1e-9


@pytest.mark.parametrize("grade", ["m", "mK", "v"])
def test_a_printed_panel_is_told_what_to_do_with_a_print(grade: str):
    """Nobody draws, mills or clamps one; and the class is what its printer may hold, not what it is."""
    plan = graded(plan_demo("new"), grade)
    panel = replace(plan.panel, make=replace(plan.panel.make, method="printed"))
    sample = sample_plan()
    near = replace(sample.routed.ports[1], at=(40.0, 59.05, 20.0))
    routed = replace(sample.routed, ports=(sample.routed.ports[0], near))
    small = replace(sample.panel, make=replace(sample.panel.make, method="printed", tolerance=grade))
    found = (
        *check_tolerance_seal(panel, plan.sealed),
        *check_tolerance_screws(panel, plan.sealed),
        *check_tolerance_rooms(small, routed, None),
    )
    assert {finding.code for finding in found} == {
        "tolerance.squeeze",
        "tolerance.screws",
        "tolerance.spanner",
    }
    for finding in found:
        assert not re.search("drawing|call out|clamp|mill|set-up", finding.remedy), finding.remedy
        assert finding.text.startswith("Printed within class") or "off flat" in finding.text


@pytest.mark.parametrize(("grade", "offered"), [("m", True), ("c", False), ("v", False)])
def test_a_wider_screw_hole_is_told_up_to_the_rim(grade: str, offered: bool):
    """A hole that leaves the head no seat is none that the file takes; the one that is told cures."""
    plan = graded(plan_demo("new"), grade)
    panel = replace(plan.panel, make=replace(plan.panel.make, method="printed"))
    (found,) = check_tolerance_screws(panel, plan.sealed)
    told = re.search(r'set screw_hole = "([\d.]+) mm" in \[make\]', found.remedy)
    assert (told is not None) == offered, found.remedy
    if told is None:
        assert "open up" not in found.remedy
        return
    assert float(told[1]) <= widest_hole(panel)
    wider = replace(panel, make=replace(panel.make, screw_hole=float(told[1])))
    assert check_tolerance_screws(wider, plan.sealed) == ()


def test_a_cord_that_may_lie_loose_is_told_so():
    plan = graded(plan_demo("new"), "mL")
    (seal,) = worst_seals(plan.panel, plan.sealed)
    assert seal.squeeze[0] < 0
    (found,) = check_tolerance_seal(plan.panel, plan.sealed)
    assert found.severity == "caution"
    assert "without any squeeze" in found.text
    assert "-" not in found.text.split("leave the cord")[1]
    coarse = graded(plan, "v")
    thin = replace(coarse.panel, make=replace(coarse.panel.make, cord=1.5))
    (found,) = check_tolerance_seal(thin, coarse.sealed)
    assert "may not squeeze the cord at all" in found.text


def test_no_cord_no_squeeze_and_no_screws():
    plan = plan_demo("laser-driver")
    assert worst_seals(plan.panel, plan.sealed) == ()
    assert check_tolerance_seal(plan.panel, plan.sealed) == ()
    assert worst_screw(plan.panel, plan.sealed) is None


def test_ports_that_stand_just_far_enough_are_too_near_at_the_worst():
    plan = sample_plan()
    near = replace(plan.routed.ports[1], at=(40.0, 59.05, 20.0))
    routed = replace(plan.routed, ports=(plan.routed.ports[0], near, *plan.routed.ports[2:]))
    (found,) = [f for f in check_tolerance_rooms(plan.panel, routed, None) if "spanner" in f.text]
    assert (found.code, found.severity) == ("tolerance.spanner", "caution")
    needs = thread("G1/4").spanner_radius + thread("G1/4").collar / 2
    assert found.value == pytest.approx(24.05 - 0.2)
    assert found.limit == needs == 24.0
    assert found.at_mm == pytest.approx((40.0, 47.025, 20.0))
    assert found.features == ("block inlet", "block outlet")
    # 0.1 mm to either side in class f, and 25 mm are enough in class m.
    assert not [
        f for f in check_tolerance_rooms(graded(plan, "m").panel, plan.routed, None) if "spanner" in f.text
    ]


def test_a_collar_at_the_far_edge_and_one_at_the_body_face():
    plan = sample_plan()
    # 160 mm wide: 0.5 on the place, 0.5 on the width; needs half of 18 mm.
    right = replace(plan.routed.ports[0], at=(150.5, 35.0, 20.0))
    routed = replace(plan.routed, ports=(right, *plan.routed.ports[1:]))
    (found,) = [f for f in check_tolerance_rooms(plan.panel, routed, None) if "block inlet" in f.features]
    assert found.value == pytest.approx(9.5 - 1.0)
    assert found.at_mm == (150.5, 35.0, 20.0)
    assert found.features == ("block inlet",)
    low = replace(plan.routed.ports[3], at=(65.0, 0.0, 9.1))
    routed = replace(plan.routed, ports=(*plan.routed.ports[:3], low))
    rooms = [f for f in check_tolerance_rooms(plan.panel, routed, None) if f.features == ("drain",)]
    assert [f.value for f in rooms] == [pytest.approx(8.9)]
    # What is too near as drawn is the nominal rule's.
    low = replace(low, at=(65.0, 0.0, 8.0))
    routed = replace(plan.routed, ports=(*plan.routed.ports[:3], low))
    assert not [f for f in check_tolerance_rooms(plan.panel, routed, None) if f.features == ("drain",)]


def test_rooms_are_nearer_at_the_worst_and_farther_off_in_a_finer_class():
    plan = sample_plan()
    medium = worst_rooms(plan.panel, plan.routed, None)
    fine = worst_rooms(graded(plan, "f").panel, plan.routed, None)
    for m, f in zip(medium, fine, strict=True):
        assert m.worst < f.worst < f.nominal == m.nominal


def test_screws_drilled_apart():
    plan = plan_demo("new")
    worst = worst_screw(plan.panel, plan.sealed)
    assert worst is not None
    x, y, z = worst.at
    assert (x, y) in plan.sealed.screws
    assert z == 0.0
    tolerance = {True: 0.5, False: 0.3}
    assert worst.apart == pytest.approx(2 * math.hypot(tolerance[x > 120], tolerance[y > 120]))
    (found,) = check_tolerance_screws(plan.panel, plan.sealed)
    assert (found.code, found.severity, found.limit) == ("tolerance.screws", "note", 0.25)
    assert found.at_mm == worst.at
    assert "in one clamping" in found.remedy
    printed = replace(plan.panel, make=replace(plan.panel.make, method="printed"))
    (found,) = check_tolerance_screws(printed, plan.sealed)
    assert "clamping" not in found.remedy
    # Opened up by so much the holes meet.
    assert f"to {4.5 + 2 * (worst.apart - 0.25):.2f} mm at most" in found.remedy
    wide = replace(plan.panel, make=replace(plan.panel.make, screw_hole=7.0))
    assert check_tolerance_screws(wide, plan.sealed) == ()


def test_every_screw_goes_in_within_the_zone():
    zone, rng = fastener_zone(4.5, 4.0), np.random.default_rng(5)
    assert zone == 0.25
    turn = rng.uniform(0, 2 * math.pi, (2, 5000))
    # Both axes on the rims of their zones: the screw's and the hole's.
    apart = (
        np.hypot(*(np.array([np.cos(turn[0]), np.sin(turn[0])]) - [np.cos(turn[1]), np.sin(turn[1])]))
        * zone
        / 2
    )
    assert apart.max() <= (4.5 - 4.0) / 2 + 1e-12
    assert apart.max() > 0.249


@pytest.mark.parametrize(
    ("closing", "body"),
    [("cord", 18.5), ("cord", 19.0), *product(["bonded", "one-piece"], [18.0, 18.1, 18.3])],
)
def test_a_body_as_thick_as_told_gives_collars_on_its_edges_their_room(closing: str, body: float):
    """An edge port cannot be moved off a face: the layout puts it into the middle of what the body leaves."""

    def rooms(thick: float):
        plan = sample_plan()
        make = replace(plan.panel.make, closing=closing, body=thick)
        panel = replace(plan.panel, make=make, channel=replace(plan.panel.channel, depth=6.0))
        z = port_axis_z(panel, thread("G1/4"), "drain")
        drain = replace(plan.routed.ports[3], at=(65.0, 0.0, z))
        found = check_tolerance_rooms(panel, replace(plan.routed, ports=(drain,)), None)
        return [finding for finding in found if "body's face" in finding.text]

    (found,) = rooms(body)
    thicker = float(re.search(r"body in \[make\] ([\d.]+) mm thicker", found.remedy)[1])
    assert rooms(body + thicker - 0.11) != []
    assert rooms(body + thicker) == []
