"""The cover screws in the terminal and in the report."""

from __future__ import annotations

import json

import pytest

from exports.report.fastening import fastening_section
from exports.tables.fastening_tables import describe_fastening
from layouts.strength.cover import bend_cover
from layouts.strength.fastening import add_pulls, fasten_plan
from tests.layouts.sample_routed import sample_panel, sample_routed
from tests.layouts.strength.sample_cover import cord_plan, whole_plan


def test_the_table_tells_screws_and_torque() -> None:
    plan = cord_plan()
    (one,) = fasten_plan(plan)
    lines = describe_fastening(plan)
    assert lines[0] == ""
    assert lines[3].startswith(f"cover  {len(one.loads_n)} M4 x 20 ")
    assert f"{max(one.loads_n):.0f} N" in lines[3]
    assert lines[3].endswith("N m")
    assert lines[4] == "a washer of 9 mm (ISO 7089) under each head"
    by_hand = " ".join(lines[5:])
    assert ("by hand" in by_hand) == (sum(one.torque_nm) / 2 < 0.3)
    assert all(len(line) <= 100 for line in lines)
    inserted = describe_fastening(cord_plan(inserts=True))
    assert inserted[4].endswith("; inserts M4 x 8.1 in the body")
    metal = describe_fastening(cord_plan(material="aluminium 6082-T6", cover_material="aluminium 6082-T6"))
    assert metal[3].endswith("N m")
    # What a plan only estimates, it says; what has been calculated needs no such words.
    assert "may find what these estimates do not" in " ".join(metal[4:])
    bending = bend_cover(plan, "back")
    assert bending is not None
    assert "estimates do not" not in " ".join(describe_fastening(add_pulls(plan, (bending,))))


def test_the_report_has_an_entry_for_each_cover() -> None:
    plan = cord_plan()
    (entry,) = json.loads(json.dumps(fastening_section(plan)))
    (one,) = fasten_plan(plan)
    assert (entry["layer"], entry["screw"], entry["length_mm"], entry["insert"]) == ("back", "M4", 20.0, None)
    assert entry["loads_n"] == pytest.approx(one.loads_n, abs=0.05)
    assert len(entry["loads_n"]) == len(plan.sealed.screws)
    assert entry["preload_n"] == pytest.approx(one.preload_n, abs=0.05)
    assert entry["torque_nm"][0] < entry["torque_nm"][1]


def test_nothing_is_told_where_nothing_is_screwed() -> None:
    plan = whole_plan(sample_panel("bonded"), sample_routed("bonded"))
    assert describe_fastening(plan) == []
    assert fastening_section(plan) == []
