"""How a panel fills and drains: in words, in the tables, in the report."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from picture_texts import assert_inside
from sample_demos import plan_demo
from sample_filling import UPS, said, sample_filling, sample_tilts, stand
from sample_plan import sample_plan

from exports.pictures.filling_picture import draw_filling
from exports.pictures.tilt_picture import draw_tilts
from exports.report.filling import filling_section
from exports.tables.filling_tables import (
    carry_rows,
    describe_filled,
    describe_filling,
    pocket_rows,
    step_rows,
)
from exports.tables.text_tables import LINE
from exports.wording.fill_step_words import tell_sequence, tell_step
from exports.wording.filling_words import (
    name_holders,
    show_mm3,
    tell_attitude,
    tell_left,
    tell_proposal,
    tell_relief,
    tell_tilts,
    tell_untold,
)
from layouts.filling.sequence_values import DryInlet
from layouts.filling.values import Filling, Left, Pocket, PortProposal, Relief, Tilt
from layouts.panels.catalogue import demo_names

PLAN = sample_plan()
FILLING = sample_filling(PLAN)


def test_air_that_stays_is_told_with_what_goes_in():
    """A figure for each: what a still fill takes, and what is to be had ready."""
    assert FILLING.sequence is not None
    held = tell_sequence(replace(FILLING.sequence, whole_ml=54.0))
    assert held.startswith("48.1 mL goes in (54.0 mL with no air left), ")
    assert tell_sequence(replace(FILLING.sequence, whole_ml=48.1)).startswith("48.1 mL goes in, ")


def test_no_tilt_is_named_that_is_not_worth_it():
    """As installed 5 mL stays; where some tilt leaves less, none does much better, else none does better."""
    level = replace(sample_tilts(), fill_best=Tilt(0.0, 0.0))
    assert tell_tilts(PLAN.panel, level)[0].endswith("and no tilt does much better.")
    even = replace(level, air_mm3=np.full((13, 13), 5000.0))
    assert tell_tilts(PLAN.panel, even)[0].endswith("and no tilt does better.")
    picture = said(draw_tilts(PLAN, level))
    assert "best tilt" in picture
    assert "within 0.2 mL of the least" in picture
    assert "least stays" not in picture


def test_flat_panels_are_lifted_by_their_edges():
    flat = stand((0.0, 0.0, 1.0))
    assert "upper edge up" in said(draw_tilts(flat, sample_tilts()))
    assert "backwards" not in said(draw_tilts(flat, sample_tilts()))
    assert tell_tilts(flat.panel, sample_tilts())[1].startswith(
        "To drain, lift the panel's upper edge by 45°: "
    )


def test_tilts_and_attitudes_in_words():
    fill, drain = tell_tilts(PLAN.panel, sample_tilts())
    assert fill == "To fill, tilt the panel by 45° to the left: 0 mL of air stays; as installed 5.0 mL."
    assert drain == "To drain, tilt the panel by 45° forwards: 0 mL of coolant stays; as installed 9.0 mL."
    level = replace(sample_tilts(), fill_best=Tilt(0.0, 0.0))
    assert tell_tilts(PLAN.panel, level)[0].endswith("5.0 mL of air stays, and no tilt does much better.")
    # One figure for the installed attitude: that of the finer voxels.
    fine = replace(FILLING.left, air_mm3=4300.0, coolant_mm3=8200.0)
    assert tell_tilts(PLAN.panel, sample_tilts(), fine)[0].endswith("as installed 4.3 mL.")
    assert tell_tilts(PLAN.panel, level, fine)[0].endswith(
        "4.3 mL of air stays, and no tilt does much better."
    )
    bare = replace(sample_tilts(), tank_stays=np.zeros((13, 13), bool))
    assert tell_tilts(PLAN.panel, bare)[0] == (
        "To fill, no tilt keeps the tank's outlet in coolant and its fill port over it: as installed 5.0 mL of air "
        "stays."
    )
    told = [
        tell_attitude(stand(up).panel) for up in ((0.0, 1.0, 0.0), *UPS, (0.0, -1.0, 0.0), (-1.0, 0.0, 0.0))
    ]
    assert told == [
        "stands upright",
        "stands on its left edge",
        "lies flat, its front face up",
        "stands turned 30° counter-clockwise and leans back 17°",
        "stands on its upper edge",
        "stands on its right edge",
    ]


def test_pockets_and_reliefs_in_words():
    three = ("channel a - b", "port x inlet G1/4", "tank")
    assert name_holders(three) == 'channel "a - b", port "x inlet" and the tank'
    assert name_holders((*three, "pump inlet bore")) == 'channel "a - b", port "x inlet" and 2 more'
    assert name_holders(("pump inlet bore",)) == "the pump inlet bore"
    assert [show_mm3(v) for v in (10.0, 300.0, 10700.0, 150_400.0)] == ["0 mL", "0.3 mL", "10.7 mL", "150 mL"]
    reliefs = (
        Relief("bleed", 0.0, "a - b", (10.2, 20.0, 20.0)),
        Relief("hose", 300.0, "x inlet"),
        Relief("move", 0.0, "x inlet", (10.0, 50.0, 20.0)),
        Relief("tilt", 1200.0, tilt=Tilt(-15.0, 0.0)),
    )
    assert [tell_relief(PLAN.panel, "coolant", relief) for relief in reliefs] == [
        "bleed port at (10, 20) mm: 0 mL stays",
        'take the hose off at "x inlet": 0.3 mL stays',
        'move "x inlet" to (10, 50) mm: 0 mL stays in all',
        "tilt the panel by 15° to the left: 1.2 mL stays in all",
    ]
    airy = (
        Relief("plug", 0.0, "drain"),
        Relief("hose", 0.0, "x inlet"),
        Relief("slope", 0.0, tilt=Tilt(2.0, 0.0)),
    )
    assert [tell_relief(PLAN.panel, "air", relief) for relief in airy] == [
        'loosen the plug of "drain" while filling: 0 mL stays',
        'lead the hose at "x inlet" upwards: 0 mL stays',
        "install with a slope, 2° to the right: 0 mL stays",
    ]


def test_fill_table_has_a_row_for_each_step():
    assert FILLING.sequence is not None
    head, first, ready, second, run, top = step_rows(FILLING.sequence)
    assert head[1:4] == ("filling", "poured", "in all")
    assert first[:4] == ("1", "the pump's inlet is covered", "3.2 mL", "3.2 mL")
    assert ready[:4] == ("2", "the pump may run", "2.1 mL", "5.3 mL")
    assert second[2:4] == ("11.8 mL", "17.1 mL")
    assert run[1:3] == ("the pump runs", "-")
    # The end would say the same once more.
    assert top[1] == "the loop is full (last of 4 times)"
    assert top[6] == "100 %"
    *steps, end = FILLING.sequence.steps
    parted = replace(FILLING.sequence, steps=(*steps, replace(end, poured_ml=1.0)))
    assert [row[1] for row in step_rows(parted)[-2:]] == [
        "the tank is filled up again (last of 4 times)",
        "the loop is full",
    ]


def test_a_run_that_fills_the_loop_is_told_as_such():
    assert FILLING.sequence is not None
    run = FILLING.sequence.steps[3]
    assert tell_step(run) == "run the pump until the tank's outlet is nearly bare"
    assert tell_step(replace(run, loop_share=1.0)) == "run the pump until the loop is full"
    assert tell_step(replace(run, times=3)).endswith("nearly bare (first of 3 times)")


def test_pockets_too_small_to_be_told_are_counted():
    pocket = Pocket(2000.0, (1.0, 2.0, 3.0), None, 0.0, ("tank",))
    rows = pocket_rows("air", (pocket,))
    assert rows[1] == ("1", "2.0 mL", "the tank", "(1, 2) mm", "shut in")
    left = replace(FILLING.left, air=(pocket, replace(pocket, volume_mm3=30.0)))
    told = describe_filled(PLAN, replace(FILLING, left=left))
    assert "and 1 of less than 0.05 mL" in told
    left = replace(FILLING.left, air=(replace(pocket, volume_mm3=30.0),), air_mm3=30.0)
    picture = draw_filling(PLAN, replace(FILLING, left=left))
    assert "and 1 of less than 0.05 mL" in said(picture)


def test_moving_air_has_a_row_for_each_piece():
    head, feed, back = carry_rows(FILLING.carries, 0.06)
    assert head[4:] == ("in use", "full speed", "carried from", "air is")
    assert feed == ("feed", "(115, 78)", "43 mm", "90°", "0.57", "0.61", "0.31-0.34", "carried down")
    assert back[-1] == "may be carried"


def test_plan_tells_what_matters_and_make_all_of_it():
    plan = replace(PLAN, filling=FILLING)
    short = describe_filling(plan)
    assert short[:2] == ["", "filling"]
    joined = " ".join(short)
    assert (
        "48.1 mL goes in, the pump's inlet is covered after 3.2 mL, the pump may run from 5.3 mL on, the tank is "
        "filled up again 4 times" in joined
    )
    assert "coolant stays when drained" in joined
    assert 'not surely carried down 1 falling piece of 2: "block - tank"' in joined
    assert describe_filling(replace(PLAN, filling=None)) == []
    whole = describe_filled(PLAN, FILLING)
    for wanted in (
        "its level would fall 12 mm",
        "no volume is known of block and hoses",
        "channel feed",
        " 4.2 mm",
    ):
        assert wanted in whole.replace("\n", " "), wanted
    assert " 1  Open the fill port and pour slowly." in whole.splitlines()
    assert max(len(line) for line in (*short, *whole.splitlines())) <= LINE


def test_demos_tables_are_no_wider_than_a_terminal():
    for name in demo_names():
        plan = plan_demo(name)
        assert plan.filling is not None
        lines = [*describe_filling(plan), *describe_filled(plan, plan.filling).splitlines()]
        # Long names of channels are shortened; a verdict may stand out a little.
        assert max(len(line) for line in lines) <= LINE + 10, name


def test_report_has_every_value_with_its_unit():
    section = json.loads(json.dumps(filling_section(FILLING, 0.06), allow_nan=False))
    assert section.keys() >= {
        "spacing_mm",
        "wet_mm3",
        "air_left",
        "coolant_left",
        "leaves",
        "sequence",
        "carries",
        "locked_bores",
        "bleed_order",
        "drain_order",
        "proposals",
        "tilts",
    }
    assert section["wet_mm3"] == FILLING.left.wet_mm3
    for pocket, value in zip(section["coolant_left"], FILLING.left.coolant, strict=True):
        assert pocket["volume_mm3"] == pytest.approx(value.volume_mm3, rel=1e-3)
        assert pocket["at_mm"] == list(value.at)
    assert section["sequence"]["inlet_covered_ml"] == 3.2
    assert section["sequence"]["may_run_ml"] == 5.3
    assert section["sequence"]["dry"] is None
    assert section["sequence"]["steps"][2] == {
        "kind": "level reached",
        "times": 1,
        "poured_ml": 11.8,
        "total_ml": 17.1,
        "level_mm": section["sequence"]["steps"][2]["level_mm"],
        "tank_share": section["sequence"]["steps"][2]["tank_share"],
        "loop_share": 0.0,
        "poured_range_ml": None,
        "total_range_ml": None,
        "times_range": None,
        "to_mouth": False,
    }
    assert section["carries"][1]["verdict"] == "may be carried"
    assert section["carries"][1]["clears_m_s"] == [0.31, 0.34]
    assert section["bleed_order"][1]["opening"] is None
    assert [step["opening"] for step in section["drain_order"]] == [None, "drain"]
    tilts = section["tilts"]
    assert tilts["best_drain"] == {"right_deg": 0.0, "front_deg": 45.0}
    assert np.shape(tilts["air_ml"]) == np.shape(tilts["tank_stays"]) == (13, 13)
    assert tilts["coolant_ml"][12][6] == 0.0
    assert tilts["coolant_ml"][0][6] == 18.0
    assert filling_section(None, 0.06) is None
    assert filling_section(replace(FILLING, tilts=None, sequence=None), 0.06)["tilts"] is None


def test_what_untold_hoses_leave_open_is_told():
    """No air stays: that may hang on hoses of which the file says nothing."""
    assert tell_untold(FILLING.left) == ""
    left = replace(FILLING.left, air_falling_mm3=10.8e3, coolant_rising_mm3=7e3)
    open_ = replace(FILLING, left=left)
    both = "about 10.8 mL of air stays where they all fall, about 7.0 mL of coolant stays where they all rise"
    assert both in tell_untold(left)
    for told in ("\n".join(describe_filling(replace(PLAN, filling=open_))), describe_filled(PLAN, open_)):
        assert both in " ".join(told.split())
    section = filling_section(open_, 0.06)
    assert section["air_left_untold_hoses_fall_mm3"] == 10800.0
    assert section["coolant_left_untold_hoses_rise_mm3"] == 7000.0
    only = replace(left, coolant_rising_mm3=None)
    assert "coolant stays" not in tell_untold(only)
    assert filling_section(replace(FILLING, left=only), 0.06)["coolant_left_untold_hoses_rise_mm3"] is None


def test_amounts_that_hoses_leave_open_are_told_as_ranges():
    """Nobody is told to pour more than the tank may take: by its level, and how much that may be."""
    assert FILLING.sequence is not None
    steps = tuple(
        replace(
            step, total_range_ml=(7.0, 17.1), times_range=(4, 9) if step.kind in ("run", "top up") else None
        )
        for step in FILLING.sequence.steps
    )
    wide = replace(
        FILLING.sequence,
        steps=steps,
        may_run_range_ml=(2.0, 5.3),
        level_range_ml=(7.0, 17.1),
        tops_range=(4, 9),
    )
    some = replace(FILLING, sequence=wide)
    picture = said(draw_filling(PLAN, some))
    told = " ".join(describe_filled(PLAN, some).split())
    safe = "the pump may not run before 6 mL is in, unless the tank reads its level"
    for words in (safe, "filled up again 4 to 9 times"):
        assert words in picture
        assert words in told
    assert "7 to 17 mL in all" in picture
    assert "pour only until the tank reads its level" in picture
    assert "last of 4 to 9 times" in told
    assert "pour only until the tank reads its level" in told
    assert "pour only until the tank reads its level" in " ".join(
        describe_filling(replace(PLAN, filling=some))
    )
    assert "pour only" not in describe_filled(PLAN, FILLING)
    report = filling_section(some, 0.06)["sequence"]
    assert report["may_run_range_ml"] == [2.0, 5.3]
    assert report["tops_range"] == [4, 9]
    assert report["steps"][2]["total_range_ml"] == [7.0, 17.1]


def test_a_panel_that_cannot_be_filled_has_no_steps():
    assert FILLING.sequence is not None
    why = DryInlet("shut", "the tank has no fill port", (1, 2, 3), 0.0, 0.0, "", ("tank",), "tank.fill")
    shut = replace(
        FILLING,
        sequence=replace(FILLING.sequence, steps=(), may_run_ml=None, inlet_covered_ml=None, dry=why, tops=0),
    )
    told = describe_filled(PLAN, shut)
    assert "to fill: the panel cannot be filled: the tank has no fill port" in told
    assert "goes in" not in told
    assert "poured" not in told
    picture = draw_filling(PLAN, shut)
    assert "The panel cannot be filled: the tank has no fill port" in said(picture)
    assert_inside(picture)
    assert filling_section(shut, 0.06)["sequence"]["steps"] == []


def test_a_fill_port_under_the_level_is_told():
    assert FILLING.sequence is not None
    steps = tuple(
        replace(step, to_mouth=step.kind in ("level reached", "top up")) for step in FILLING.sequence.steps
    )
    low = replace(FILLING, sequence=replace(FILLING.sequence, steps=steps))
    picture = said(draw_filling(PLAN, low))
    assert "3: fill the tank to its fill port's mouth, the pump at rest" in picture
    assert "the tank takes coolant only up to its fill port's mouth" in picture
    assert "the tank is filled to its fill port" in describe_filled(PLAN, low)


def test_a_plug_that_serves_both_is_told():
    bleed = PortProposal(
        "bleed", "feed", "front", (104.0, 40.0, 22.0), "G1/8", 0.0, built=True, also_mm3=3000.0
    )
    assert tell_proposal(bleed).endswith("0 mL less air, and 3.0 mL less coolant, for it drains too")
    drain = replace(bleed, kind="drain", clears_mm3=900.0, also_mm3=150.0)
    assert tell_proposal(drain).endswith(
        "0.9 mL less coolant, and 0.1 mL less air once its plug is opened while filling"
    )
    assert tell_proposal(replace(drain, also_mm3=0.0)).endswith("0.9 mL less coolant")


def test_a_panel_without_a_drain_is_told_to_be_drained_through_its_hoses():
    filling = Filling(Left((0.0, 1.0, 0.0), 1.0, 1e5, (), (), 0.0, 0.0, through_hoses=True))
    assert tell_left(filling, "coolant") == "coolant that stays when drained through the hose mouths: 0 mL"
    assert tell_left(filling, "air") == "air that stays when filled: 0 mL"
