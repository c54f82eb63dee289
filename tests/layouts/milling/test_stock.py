"""Sheets, and what a machine must reach: against plain sums."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from sample_demos import plan_demo

from layouts.milling.stock import list_stock, list_upright, lying_height
from layouts.panel import Milling, Panel
from layouts.rules.stock_rules import check_sheet, check_travel, check_upright
from tests.layouts.rules.sample_bores import BORED

PANEL, DETAIL = BORED.panel, BORED.detail
POINT = 5.9 / math.tan(math.radians(59))


def change(panel: Panel = PANEL, room=None, **milling: object) -> Panel:
    """Return the panel with another machine or another [milling]."""
    make = panel.make if room is None else replace(panel.make, room=room)
    return replace(panel, make=make, milling=replace(Milling(), **milling))


def test_a_sheet_for_each_part() -> None:
    """200 x 140 mm and 3 mm all round; body 20 mm, cover 8 mm."""
    sheets = list_stock(PANEL, DETAIL)
    assert [(s.part, s.width, s.height, s.thickness) for s in sheets] == [
        ("body", 206.0, 146.0, 20.0),
        ("cover", 206.0, 146.0, 8.0),
    ]
    assert sheets[0].volume_mm3 == pytest.approx(601520.0)
    assert [(s.width, s.height) for s in list_stock(change(stock=(250.0, 150.0)), DETAIL)] == [
        (250.0, 150.0)
    ] * 2


def test_two_covers_are_two_sheets() -> None:
    plan = plan_demo("observatory-camera")
    sheets = list_stock(plan.panel, plan.detail)
    assert [(s.part, s.thickness) for s in sheets] == [("body", 22.0), ("cover", 10.0), ("front cover", 10.0)]


def test_height_lying() -> None:
    """Longest bore from a face: 15 mm with a point of 11.8 mm, lifted 2 mm over 20 mm of body."""
    needs, longest = lying_height(DETAIL, "body")
    assert longest is not None
    assert longest.diameter == 11.8
    assert needs == pytest.approx(20.0 + longest.length + POINT + 2.0)


def test_height_upright() -> None:
    """On edge: 140 mm high for the top and the bottom; the drill's bore, its point, 2 mm, and 40 mm of chuck."""
    uprights = {upright.face: upright for upright in list_upright(PANEL, DETAIL)}
    assert set(uprights) == {"top", "bottom"}
    top = uprights["top"]
    assert top.needed == pytest.approx(140.0 + top.bore.length + POINT + 2.0 + 40.0)
    assert set(top.names) == {"port radiator inlet G1/4", "port radiator outlet G1/4", "port fill G1/4"}


@pytest.mark.parametrize("more", [-0.01, 0.01])
def test_upright(more: float) -> None:
    needed = max(upright.needed for upright in list_upright(PANEL, DETAIL))
    found = check_upright(change(room=(400.0, 300.0, needed - more)), DETAIL)
    assert len(found) == (more > 0)
    for finding in found:
        assert (finding.code, finding.severity) == ("make.upright", "caution")
        assert finding.value == pytest.approx(needed)
        bore = max(list_upright(PANEL, DETAIL), key=lambda upright: upright.needed).bore
        assert finding.at_mm == bore.bore.mouth
        assert 'edges = "drill press"' in finding.remedy


def test_upright_is_not_asked_on_a_drill_press_or_without_a_machine() -> None:
    assert check_upright(change(room=(400.0, 300.0, 80.0)), DETAIL)
    assert check_upright(change(room=(400.0, 300.0, 80.0), edges="drill press"), DETAIL) == ()
    assert check_upright(replace(PANEL, make=replace(PANEL.make, room=None)), DETAIL) == ()


@pytest.mark.parametrize(
    ("room", "severity", "value"),
    [
        ((400.0, 300.0, 80.0), None, 0.0),
        ((146.0, 206.0, 80.0), None, 0.0),
        ((199.0, 300.0, 80.0), None, 0.0),
        ((139.9, 300.0, 80.0), "fault", 140.0),
        ((205.9, 146.0, 80.0), "caution", 206.0),
        ((400.0, 300.0, 19.9), "fault", 20.0),
        ((400.0, 300.0, 40.0), "caution", 40.5),
    ],
)
def test_travel(room: tuple[float, float, float], severity: str | None, value: float) -> None:
    """200 x 140 x 20 mm: turned in plan if need be; a 6 mm cutter goes round it; a drill stands over it."""
    found = check_travel(change(room=room), DETAIL)
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])
    for finding in found:
        assert finding.code == "make.room"
        assert finding.value == pytest.approx(value, abs=0.1)


def test_a_drill_that_cannot_be_lifted_over_the_body_is_located() -> None:
    (finding,) = check_travel(change(room=(400.0, 300.0, 38.0)), DETAIL)
    _, longest = lying_height(DETAIL, "body")
    assert longest is not None
    assert (finding.at_mm, finding.features) == (longest.bore.mouth, (longest.name,))


def test_a_printed_panel_is_not_milled() -> None:
    panel = change(replace(PANEL, make=replace(PANEL.make, method="printed")), room=(1.0, 1.0, 1.0))
    panel = replace(panel, milling=Milling(stock=(200.0, 140.0)))
    assert (check_travel(panel, DETAIL), check_upright(panel, DETAIL), check_sheet(panel, DETAIL)) == (
        (),
        (),
        (),
    )


@pytest.mark.parametrize(
    ("stock", "told"),
    [
        ((206.0, 146.0), []),
        ((200.0, 140.0), [(0.0, 3.0)]),
        ((203.0, 150.0), [(1.5, 3.0)]),
        ((1000.0, 250.0), [(1000.0, 400.0)]),
    ],
)
def test_sheet(stock: tuple[float, float], told: list[tuple[float, float]]) -> None:
    found = check_sheet(change(stock=stock, room=(400.0, 300.0, 80.0)), DETAIL)
    assert [(f.value, f.limit) for f in found] == told
    assert {(f.code, f.severity) for f in found} <= {("make.stock", "note")}


@pytest.mark.parametrize(
    "name", ["workshop-render", "laser-driver", "new", "observatory-camera", "cell-tester"]
)
def test_demos_fit_their_machines(name: str) -> None:
    plan = plan_demo(name)
    assert check_travel(plan.panel, plan.detail) == ()
    assert check_sheet(plan.panel, plan.detail) == ()
    pressed = replace(plan.panel, milling=replace(plan.panel.milling, edges="drill press"))
    assert check_upright(pressed, plan.detail) == ()
