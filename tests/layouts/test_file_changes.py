"""Remedies as changes to the file: where keys stand, and values as they are written."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geom.findings import KeyChange
from geom.units import parse_quantity
from layouts.cures import Cure, join_cures, use_cord
from layouts.file.read import read_panel
from layouts.file_changes import (
    find_path,
    set_channel_width,
    set_clear_box,
    set_part_key,
    set_port_place,
    set_stock,
    thicken_sheet,
    write_length,
)
from layouts.panels.catalogue import demo_path

WORKSHOP = read_panel(demo_path("workshop-render"))


def test_keys_are_found_as_messages_show_them():
    assert find_path("part.5.inlet") == ("part", 4, "inlet")
    assert find_path("drain.port") == ("drain", "port")
    for port in (WORKSHOP.parts[0].outlet, WORKSHOP.parts[-1].inlet, WORKSHOP.drain):
        table = WORKSHOP.document
        for step in find_path(port.key):
            table = table[step]
        assert table["on"] == port.on


@given(st.integers(-2_000_000, 2_000_000))
def test_lengths_are_written_to_the_micron(microns):
    assert parse_quantity(write_length(microns / 1000), "length") == pytest.approx(microns / 1000, rel=1e-12)


def test_lengths_are_written_as_a_maker_would():
    told = {
        9.0: "9 mm",
        12.5: "12.5 mm",
        0.1 + 0.2: "0.3 mm",
        -0.0: "0 mm",
        -0.0001: "0 mm",
        6.34: "6.34 mm",
        100.0: "100 mm",
        # Long ones keep their digits, and none is told by a power of ten.
        1234.5678: "1234.568 mm",
        1999999.5: "1999999.5 mm",
        0.00004: "0 mm",
    }
    assert [write_length(one) for one in told] == list(told.values())


def test_a_port_is_fixed_instead_of_where_it_may_stand():
    free = next(p for part in WORKSHOP.parts for p in (part.inlet, part.outlet) if p.within is not None)
    assert set_port_place(free, (60.0, 45.0)) == (
        KeyChange((*find_path(free.key), "within"), None),
        KeyChange((*find_path(free.key), "at"), ["60 mm", "45 mm"]),
    )
    edges = {"left": "45 mm", "right": "45 mm", "top": "60 mm", "bottom": "60 mm"}
    drain = WORKSHOP.drain
    gone, placed = set_port_place(drain, (60.0, 45.0))
    assert gone == KeyChange(("drain", "port", "between"), None)
    assert placed == KeyChange(("drain", "port", "at"), edges[drain.on])


def test_changes_name_their_keys():
    assert set_channel_width(None, 7.5) == KeyChange(("channel", "width"), "7.5 mm")
    assert set_channel_width("pump - block", 9.0) == KeyChange(("channel", "own", "pump - block"), "9 mm")
    assert set_stock(240.0, 160.0) == KeyChange(("milling", "stock"), ["240 mm", "160 mm"])
    last = WORKSHOP.parts[-1].name
    assert set_part_key(WORKSHOP, last, "restrictor", "4 mm").path == (
        "part",
        len(WORKSHOP.parts) - 1,
        "restrictor",
    )
    region = WORKSHOP.keep_clear[-1]
    assert set_clear_box(WORKSHOP, region, (0.0, 0.0, 5.0, 6.5)) == KeyChange(
        ("keep_clear", len(WORKSHOP.keep_clear) - 1, "box"), ["0 mm", "0 mm", "5 mm", "6.5 mm"]
    )


@given(st.floats(0.0, 9.0))
def test_a_sheet_is_never_thickened_too_little(by):
    thick = parse_quantity(thicken_sheet(WORKSHOP, "cover", by).value, "length")
    assert 0 <= thick - WORKSHOP.make.cover - by + 1e-6 <= 0.1 + 2e-6


def test_ports_that_the_plan_adds_are_none_of_the_files():
    assert WORKSHOP.port("drain") is WORKSHOP.drain
    assert WORKSHOP.port("bleed 1") is None


def test_ways_out_are_joined_in_one_sentence():
    assert join_cures((Cure("wait"), use_cord(2.5))) == "wait, or use a cord of 2.5 mm (cord in [make])"
    assert use_cord(2.5).changes == (KeyChange(("make", "cord"), "2.5 mm"),)
