"""Feather edges as they are told: by the features between which they lie."""

from __future__ import annotations

from dataclasses import replace

from geom.measured import Feather
from layouts.rules.feather_rules import check_feathers
from tests.layouts.rules.sample_bores import BORED

CUSPS = (
    Feather(18.1, 6.0, (24.0, 20.6, 12.0), ("hole 1", "hole 2")),
    Feather(17.9, 6.0, (24.0, 19.4, 12.0), ("hole 1", "hole 2")),
    Feather(20.0, 30.0, (0.0, 22.0, 12.0), ("bore",)),
)


def test_feather_edges_are_told_once_for_the_same_features() -> None:
    found = check_feathers(BORED.panel, "body", CUSPS)
    assert [(f.code, f.severity, f.features, f.at_mm, f.value) for f in found] == [
        ("make.feather", "caution", ("hole 1", "hole 2"), (24.0, 19.4, 12.0), 17.9),
        ("make.feather", "caution", ("bore",), (0.0, 22.0, 12.0), 20.0),
    ]
    assert "where hole 1 and hole 2 meet (24.00, 19.40, 12.00) mm, 2 edges in all" in found[0].text
    assert (
        "of about 20 degrees, 30 mm long, at bore (0.00, 22.00, 12.00) mm; under 30 degrees" in found[1].text
    )


def test_sound_parts_and_prints_are_quiet() -> None:
    assert check_feathers(BORED.panel, "body", ()) == ()
    printed = replace(BORED.panel, make=replace(BORED.panel.make, method="printed"))
    assert check_feathers(printed, "body", CUSPS) == ()


def test_a_cover_cut_from_a_sheet_is_asked_in_a_printed_panel() -> None:
    make = replace(BORED.panel.make, method="printed", material="PETG", cover_material="PMMA cast")
    panel = replace(BORED.panel, make=make)
    assert check_feathers(panel, "body", CUSPS) == ()
    assert [f.code for f in check_feathers(panel, "cover", CUSPS)] == ["make.feather"] * 2
