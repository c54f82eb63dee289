"""The parts list: the plan's own counts and lengths, and CSV that reads back as written."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import replace

import pytest
from sample_demos import plan_demo

from exports.tables.parts_list import COLUMNS, csv_row, list_parts, parts_csv
from geom.standards import tables
from layouts.case import Tubing
from layouts.closing.gland import cut_length, scarf_allowance
from layouts.cost.quantities import cost_sheet
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan
from layouts.tubes.values import TubeRun

DEMOS = demo_names()


def rows_of(plan: Plan, item: str) -> list:
    return [row for row in list_parts(plan) if row.item == item or row.item.startswith(f"{item} ")]


@pytest.mark.parametrize("name", DEMOS)
def test_csv_reads_back_as_the_rows(name):
    plan = plan_demo(name)
    read = list(csv.reader(io.StringIO(parts_csv(plan), newline="")))
    assert tuple(read[0]) == COLUMNS
    assert [tuple(row) for row in read[1:]] == [csv_row(n, row) for n, row in enumerate(list_parts(plan), 1)]
    assert parts_csv(plan).count("\r\n") == len(read)
    assert parts_csv(plan) == parts_csv(plan)


@pytest.mark.parametrize("name", DEMOS)
def test_screws_ports_and_parts_are_all_there(name):
    plan = plan_demo(name)
    screws = sum(len(plan.sealed.screws_of(layer)) for layer in ("back", "front"))
    assert sum(int(row.count) for row in rows_of(plan, "cover screw")) == screws
    fittings, tight, vented, test = (
        sum(int(row.count) for row in rows_of(plan, kind))
        for kind in ("fitting", "plug", "vented plug", "test plug")
    )
    plugs = tight + vented
    assert plugs == sum(port.is_shut for port in plan.routed.ports)
    assert vented == sum(port.role == "fill" for port in plan.routed.ports)
    # All that hoses leave by; the fill or drain port takes the test fitting in every demo.
    assert test == fittings
    assert fittings + plugs == len(plan.routed.ports)
    assert {part.name for part in plan.panel.parts} <= {row.item for row in list_parts(plan)}
    assert {blank.name for blank in plan.detail.blanks} <= {row.item for row in list_parts(plan)}
    assert len(plan.tubes) + sum(int(row.count) for row in rows_of(plan, "hose")) == fittings


@pytest.mark.parametrize("name", DEMOS)
def test_what_the_cost_sheet_counts_is_counted_alike(name):
    plan = plan_demo(name)
    rows = list_parts(plan)
    for item in cost_sheet(plan).items:
        if item.item.startswith("fittings"):
            thread = item.item.removeprefix("fittings ")
            named = [
                row
                for row in rows
                if row.item in ("fitting", "plug", "vented plug") and row.size.startswith(thread)
            ]
            assert sum(int(row.count) for row in named) == item.quantity
        elif item.unit == "pcs":
            named = [row for row in rows if row.size and item.what.startswith(row.size)]
            assert str(item.quantity) in [row.count for row in named]
        elif item.unit == "L":
            (told,) = [float(row.count) for row in rows if row.unit == "L"]
            assert item.quantity - 1e-9 <= told < item.quantity + 0.01


@pytest.mark.parametrize("name", DEMOS)
def test_cords_are_cut_as_the_closing_says(name):
    plan = plan_demo(name)
    pieces = [row for row in list_parts(plan) if row.item.startswith("cord ")]
    assert len(pieces) == len(plan.sealed.loops)
    if not pieces:
        return
    cord = tables.cord(plan.panel.make.cord)
    for row, loop in zip(pieces, plan.sealed.loops, strict=True):
        assert row.cut == cut_length(loop, cord)
        least, most = (float(text) for text in (row.cut_shown[0], row.cut_shown[-1]))
        assert row.cut[0] <= least <= most <= row.cut[1]
        assert row.cut[1] - most < 1.0
        columns = csv_row(1, row)
        assert columns[COLUMNS.index("cut_length_least_mm")] == row.cut_shown[0]
        assert columns[COLUMNS.index("cut_length_most_mm")] == row.cut_shown[-1]
    whole = next(row for row in list_parts(plan) if row.item == "cord")
    length = math.fsum(row.cut[1] + scarf_allowance(cord) for row in pieces) / 1e3
    assert length - 1e-9 <= float(whole.count) < length + 0.01


def test_tubes_are_cut_to_their_length_and_take_the_place_of_hoses():
    plan = plan_demo("laser-driver")
    port = next(port for port in plan.routed.ports if not port.is_shut)
    way = ((0.0, 0.0, 0.0), (0.0, 0.0, 40.0), (30.0, 0.0, 40.0))
    tube = TubeRun("tube 1", port.name, port.part, way, (90.0,), 15.0, 63.6)
    piped = replace(plan, tubes=(tube,), panel=replace(plan.panel, tubing=Tubing(13.0, 15.0, 5.0, 8.0)))
    row = rows_of(piped, "tube")[0]
    assert row.cut_shown == ("64",)
    assert "1 bend of 15 mm" in row.size
    assert "within 1 mm" in row.note
    # Only the fitting that takes the tube is for tube; the others stay fittings for hose.
    joined, free = rows_of(piped, "fitting")
    assert (joined.count, joined.use) == ("1", port.name)
    assert "for tube of 13 mm" in joined.size
    assert "for hose" in free.size
    assert port.name not in free.use
    assert int(free.count) == int(rows_of(plan, "fitting")[0].count) - 1
    hoses = rows_of(piped, "hose")[0]
    assert int(hoses.count) == int(rows_of(plan, "hose")[0].count) - 1
    assert port.name not in hoses.use


def test_a_vessel_is_vented_and_what_is_not_known_is_told():
    plan = plan_demo("cupboard-server")
    (vessel,) = rows_of(plan, "vented vessel")
    assert vessel.size == "250 mL, filled to its level 200 mL"
    assert "never a tight one" in vessel.note
    assert not rows_of(plan, "vented plug")
    (fitting,) = rows_of(plan, "test fitting")
    assert fitting.use == "drain"
    unknown = plan_demo("cell-tester")
    names = {part.name for part in unknown.panel.parts if part.volume_ml is None}
    assert names
    assert {row.size for row in list_parts(unknown) if row.item in names} == {"volume not known"}


def test_masses_are_those_of_the_given_cost_sheet():
    plan = plan_demo("laser-driver")
    heavy = cost_sheet(plan)
    items = tuple(
        replace(item, quantity=9.876) if item.item == "finished body" else item for item in heavy.items
    )
    (body,) = [row for row in list_parts(plan, replace(heavy, items=items)) if row.item == "body"]
    assert "weighs 9.876 kg" in body.note


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_no_name_becomes_a_formula(start):
    plan = plan_demo("laser-driver")
    parts = (replace(plan.panel.parts[0], name=f'{start}SUM(1,"2")'), *plan.panel.parts[1:])
    named = replace(plan, panel=replace(plan.panel, parts=parts))
    cells = [cell for row in csv.reader(io.StringIO(parts_csv(named), newline="")) for cell in row]
    assert f'\'{start}SUM(1,"2")' in cells
    assert not any(cell.startswith(start) for cell in cells)
