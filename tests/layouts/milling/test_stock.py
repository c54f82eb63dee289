"""Sheets, what cuts parts out of them, and what a machine must reach: against plain sums."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from sample_demos import plan_demo
from sample_jobs import BACK

from exports.wording.milling_words import job_row, tell_setup
from geom.features import Blank, Detail, Feature, Prism
from geom.outline import outline_rectangle
from layouts.milling.plan_milling import plan_milling
from layouts.milling.stock import (
    OUTLINE,
    choose_stock,
    list_upright,
    lying_height,
    outline_chips,
    outline_mill_of,
    outline_way,
    sheet_margin,
)
from layouts.milling.work import Milled, Stock
from layouts.panel import EndMill, Milling, Panel
from layouts.rules.stock_rules import check_outline_reach, check_sheet, check_travel, check_upright
from tests.layouts.rules.sample_bores import BORED

PANEL, DETAIL = BORED.panel, BORED.detail
POINT = 5.9 / math.tan(math.radians(59))


def change(panel: Panel = PANEL, room=None, **milling: object) -> Panel:
    """Return the panel with another machine or another [milling]."""
    make = panel.make if room is None else replace(panel.make, room=room)
    return replace(panel, make=make, milling=replace(Milling(), **milling))


def mill(panel: Panel = PANEL) -> Milled:
    milled = plan_milling(panel, DETAIL)
    assert milled is not None
    return milled


MILLED = mill()
SHORT = EndMill(6.0, 13.0)
"""Cuts the pockets, but does not reach through the body."""


def test_a_sheet_for_each_part() -> None:
    """200 x 140 mm, the 12 mm cutter's way and 3 mm all round; body 20 mm, cover 8 mm."""
    assert outline_mill_of(MILLED) == 12.0
    assert [(s.part, s.width, s.height, s.thickness) for s in MILLED.stocks] == [
        ("body", 230.0, 170.0, 20.0),
        ("cover", 230.0, 170.0, 8.0),
    ]
    assert MILLED.stocks[0].volume_mm3 == pytest.approx(782000.0)
    assert [(s.width, s.height) for s in mill(change(stock=(250.0, 150.0))).stocks] == [(250.0, 150.0)] * 2


def test_two_covers_are_two_sheets() -> None:
    milled = plan_demo("observatory-camera").milled
    assert milled is not None
    assert [(s.part, s.thickness) for s in milled.stocks] == [
        ("body", 22.0),
        ("cover", 10.0),
        ("front cover", 10.0),
    ]


@pytest.mark.parametrize("name", ["workshop-render", "laser-driver", "observatory-camera"])
def test_chips_come_out_of_the_sheets(name: str) -> None:
    """What is cut out of the parts and round them is less than sheets less parts: a rim is left."""
    milled = plan_demo(name).milled
    assert milled is not None
    sheets = math.fsum(stock.volume_mm3 for stock in milled.stocks)
    parts = sum(s.size[0] * s.size[1] * s.height for s in milled.setups if s.outline is not None)
    rims = math.fsum(
        (s.width * s.height - (s.width - 6.0) * (s.height - 6.0)) * s.thickness for s in milled.stocks
    )
    # Round corners of parts and cuts leave a little.
    assert milled.outline_mm3 == pytest.approx(sheets - parts - rims, rel=0.05)
    assert milled.outline_mm3 < sheets - parts - rims


@pytest.mark.published(
    source="Steiner's formula: the band of width d round a convex outline has P d + pi d^2"
)
def test_chips_round_an_outline() -> None:
    around = 2 * (100.0 + 60.0) - (8 - 2 * math.pi) * 5.0
    cutter = EndMill(6.0)
    whole = outline_chips(BACK, cutter, choose_stock(PANEL, BACK, cutter))
    assert whole == pytest.approx((around * 6.0 + math.pi * 36.0) * 20.0, rel=1e-5)


@pytest.mark.parametrize(("width", "height"), [(106.0, 66.0), (100.0, 66.0), (100.0, 60.0)])
def test_chips_round_an_outline_end_with_the_sheet(width: float, height: float) -> None:
    """Up to 3 mm of stock on a side: all of it goes but for slivers at its corners, 8 x 1.41 mm off the part's."""
    plan = 100.0 * 60.0 - (4 - math.pi) * 25.0
    chips = outline_chips(BACK, EndMill(6.0), Stock("body", width, height, 20.0))
    assert chips == pytest.approx((width * height - plan) * 20.0, rel=5e-4)


def test_a_sheet_of_the_panels_size_leaves_its_corners() -> None:
    """200 x 140 mm with corners of 6 mm radius: quarter circles are cut; without corners nothing is, nor told."""
    radius = PANEL.corner_radius
    sawn = mill(change(stock=(200.0, 140.0)))
    (first, *_) = [setup for setup in sawn.setups if setup.outline is not None]
    assert first.outline is not None
    assert outline_way(first.outline, first.size, (200.0, 140.0)) == pytest.approx(2 * math.pi * radius)
    assert sawn.outline_mm3 == pytest.approx((4 - math.pi) * radius**2 * 28.0, rel=1e-3)
    assert "rounds the corners" in tell_setup(first, sawn.stocks)
    whole = {job.part: job.minutes for job in MILLED.jobs if job.cuts == (OUTLINE,)}
    for job in sawn.jobs:
        if job.cuts == (OUTLINE,):
            assert job.minutes < whole[job.part] / 2
            assert job_row(1, job, sawn)[2] == "the corners round"


def test_a_sheet_that_is_the_part_needs_no_cut_round_it() -> None:
    square = replace(change(stock=(120.0, 80.0)), width=120.0, height=80.0, corner_radius=0.0)
    blank = Blank("body", outline_rectangle(0, 0, 120, 80, 0.0), 0.0, 20.0)
    tank = Feature("tank", "tank", "wet", Prism((outline_rectangle(20, 20, 90, 60, 9.0),), 0.0, 9.0))
    detail = Detail((blank,), (tank,), ())
    milled = plan_milling(square, detail)
    assert milled is not None
    assert (milled.outline_mm3, outline_mill_of(milled)) == (0.0, None)
    assert [job.cuts for job in milled.jobs] == [("tank",)]
    assert [(s.width, s.height, s.thickness) for s in milled.stocks] == [(120.0, 80.0, 20.0)]
    assert check_sheet(square, milled) == ()
    assert check_outline_reach(square, detail, milled) == ()


@pytest.mark.parametrize(("reach", "told"), [(14.0, True), (19.9, True), (20.0, False)])
def test_reach_through_the_sheet(reach: float, told: bool) -> None:
    panel = change(cutters=(EndMill(2.0, 6.0), EndMill(6.0, reach)))
    found = check_outline_reach(panel, DETAIL, mill(panel))
    assert [(f.code, f.severity, f.value, f.limit) for f in found] == (
        [("make.reach", "fault", 20.0, reach)] if told else []
    )
    if told:
        # The middle of the lower side, at the table: 20 mm of body lie on their outer face.
        assert found[0].at_mm in ((100.0, 0.0, 0.0), (100.0, 0.0, 20.0))
        assert "round the body: 20 mm" in found[0].text
        assert "reach of 20 mm or more in cutters of [milling]" in found[0].remedy
    # The remedies cure it.
    assert check_outline_reach(PANEL, DETAIL, MILLED) == ()


@pytest.mark.parametrize(
    ("mill_at_hand", "severity", "limit"),
    [
        (EndMill(5.0), None, 4.0),
        (EndMill(4.9), "caution", 4.0),
        (EndMill(4.0, 20.0), "caution", 4.0),
        (EndMill(3.0, 20.0), "fault", 6.0),
    ],
)
def test_a_cutter_long_for_the_sheet(mill_at_hand: EndMill, severity: str | None, limit: float) -> None:
    """As in pockets: over 4 diameters a caution, over 6 a fault, though it reaches through the 20 mm."""
    panel = change(cutters=(mill_at_hand, SHORT))
    found = check_outline_reach(panel, DETAIL, mill(panel))
    ratio = 20.0 / mill_at_hand.diameter
    assert [(f.code, f.severity, f.value, f.limit) for f in found] == (
        [("make.reach", severity, ratio, limit)] if severity else []
    )
    for finding in found:
        assert finding.at_mm in ((100.0, 0.0, 0.0), (100.0, 0.0, 20.0))
        assert "round the body is 20 mm deep" in finding.text
        assert "a cutter of 5 mm or more that reaches 20 mm" in finding.remedy
        cured = change(cutters=(mill_at_hand, EndMill(5.0, 20.0), SHORT))
        assert check_outline_reach(cured, DETAIL, mill(cured)) == ()


def test_few_chips_are_told_too() -> None:
    """1.2 mm off each corner of 28 mm of sheets: 35 mm3."""
    panel = replace(change(stock=(200.0, 140.0)), corner_radius=1.2)
    corners = outline_rectangle(0, 0, 200, 140, 1.2)
    detail = replace(DETAIL, blanks=tuple(replace(blank, loop=corners) for blank in DETAIL.blanks))
    milled = plan_milling(panel, detail)
    assert milled is not None
    assert milled.outline_mm3 == pytest.approx((4 - math.pi) * 1.2**2 * 28.0, rel=1e-3)
    assert any("make 0.035 cm³ of chips" in told for told in milled.assumptions)


def test_a_cutter_goes_round_within_the_travel_where_one_does() -> None:
    """200 mm wide, 209 mm of travel: 12 mm does not go round, 8 mm is the largest that does."""
    milled = mill(change(room=(209.0, 160.0, 80.0)))
    assert outline_mill_of(milled) == 8.0
    assert [s.width for s in milled.stocks] == [200.0 + 2 * sheet_margin(EndMill(8.0))] * 2
    assert [job.deepest for job in milled.jobs if job.cuts == (OUTLINE,)] == [20.0, 8.0]


def test_height_lying() -> None:
    """Longest bore from a face: 15 mm with a point of 11.8 mm, lifted 2 mm over 20 mm of body."""
    needs, longest = lying_height(MILLED, MILLED.stocks[0])
    assert longest is not None
    assert longest.diameter == 11.8
    assert needs == pytest.approx(20.0 + longest.depth + POINT + 2.0)


def test_height_upright() -> None:
    """On edge: 140 mm high for the top and the bottom; the drill's bore, its point, 2 mm, and 40 mm of chuck."""
    uprights = {upright.face: upright for upright in list_upright(PANEL, MILLED)}
    assert set(uprights) == {"top", "bottom"}
    top = uprights["top"]
    assert top.needed == pytest.approx(140.0 + top.hole.depth + POINT + 2.0 + 40.0)
    assert set(top.names) == {"port radiator inlet G1/4", "port radiator outlet G1/4", "port fill G1/4"}


@pytest.mark.parametrize("more", [-0.01, 0.01])
def test_upright(more: float) -> None:
    worst = max(list_upright(PANEL, MILLED), key=lambda upright: upright.needed)
    found = check_upright(change(room=(400.0, 300.0, worst.needed - more)), MILLED)
    assert len(found) == (more > 0)
    for finding in found:
        assert (finding.code, finding.severity) == ("make.upright", "caution")
        assert finding.value == pytest.approx(worst.needed)
        assert finding.at_mm == worst.hole.bore.mouth
        assert 'edges = "drill press"' in finding.remedy


def test_upright_is_not_asked_on_a_drill_press_or_without_a_machine() -> None:
    assert check_upright(change(room=(400.0, 300.0, 80.0)), MILLED)
    assert check_upright(change(room=(400.0, 300.0, 80.0), edges="drill press"), MILLED) == ()
    assert check_upright(replace(PANEL, make=replace(PANEL.make, room=None)), MILLED) == ()


@pytest.mark.parametrize(
    ("room", "severity", "value"),
    [
        ((400.0, 300.0, 80.0), None, 0.0),
        ((144.0, 204.0, 80.0), None, 0.0),
        ((199.0, 300.0, 80.0), None, 0.0),
        ((139.9, 300.0, 80.0), "fault", 140.0),
        ((203.9, 144.0, 80.0), "caution", 212.0),
        ((400.0, 300.0, 19.9), "fault", 20.0),
        ((400.0, 300.0, 40.0), "caution", 40.5),
    ],
)
def test_travel(room: tuple[float, float, float], severity: str | None, value: float) -> None:
    """200 x 140 x 20 mm, turned in plan if need be; 4 mm is the least that reaches through; a drill stands over it."""
    panel = change(room=room)
    found = check_travel(panel, mill(panel))
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])
    for finding in found:
        assert finding.code == "make.room"
        assert finding.value == pytest.approx(value, abs=0.1)


@pytest.mark.parametrize(("travel", "told"), [(212.0, False), (211.9, True)])
def test_travel_is_that_of_the_listed_cutter(travel: float, told: bool) -> None:
    """With one end mill at hand there is no other to go round with."""
    panel = change(room=(travel, 160.0, 80.0), cutters=(EndMill(12.0),))
    milled = mill(panel)
    assert [finding.value for finding in check_travel(panel, milled)] == ([212.0] if told else [])
    assert outline_mill_of(milled) == 12.0


def test_a_drill_that_cannot_be_lifted_over_the_body_is_located() -> None:
    (finding,) = check_travel(change(room=(400.0, 300.0, 38.0)), MILLED)
    _, longest = lying_height(MILLED, MILLED.stocks[0])
    assert longest is not None
    assert (finding.at_mm, finding.features) == (longest.bore.mouth, (longest.name,))


def test_the_printers_room_is_not_asked_of_a_cover_that_is_cut() -> None:
    panel = change(replace(PANEL, make=replace(PANEL.make, method="printed")), room=(1.0, 1.0, 1.0))
    panel = replace(panel, milling=Milling(stock=(200.0, 140.0)))
    assert (check_travel(panel, MILLED), check_upright(panel, MILLED)) == ((), ())
    assert [finding.value for finding in check_sheet(panel, MILLED)] == [0.0]
    assert (check_travel(panel, None), check_upright(panel, None), check_sheet(panel, None)) == ((), (), ())


@pytest.mark.parametrize(
    ("stock", "told"),
    [
        ((230.0, 170.0), []),
        ((200.0, 140.0), [(0.0, 15.0)]),
        ((229.0, 180.0), [(14.5, 15.0)]),
        ((1000.0, 250.0), [(1000.0, 400.0)]),
    ],
)
def test_sheet(stock: tuple[float, float], told: list[tuple[float, float]]) -> None:
    panel = change(stock=stock, room=(400.0, 300.0, 80.0))
    found = check_sheet(panel, mill(panel))
    assert [(f.value, f.limit) for f in found] == told
    assert {(f.code, f.severity) for f in found} <= {("make.stock", "note")}


def test_a_sheet_is_sawn_to_what_the_machine_takes() -> None:
    """Never to more than its travel; where the panel itself is too large, that alone is told."""
    tight = change(stock=(1000.0, 250.0), room=(210.0, 150.0, 80.0))
    (found,) = [f for f in check_sheet(tight, mill(tight)) if "Saw" in f.remedy]
    assert "Saw it down to 210 x 150 mm" in found.remedy
    small = change(stock=(1000.0, 250.0), room=(100.0, 100.0, 80.0))
    assert not [f for f in check_sheet(small, mill(small)) if "Saw it down" in f.remedy]
    assert [f.code for f in check_travel(small, mill(small))][:1] == ["make.room"]


@pytest.mark.parametrize(
    "name", ["workshop-render", "laser-driver", "new", "observatory-camera", "cell-tester"]
)
def test_demos_fit_their_machines(name: str) -> None:
    plan = plan_demo(name)
    assert check_travel(plan.panel, plan.milled) == ()
    assert check_sheet(plan.panel, plan.milled) == ()
    pressed = replace(plan.panel, milling=replace(plan.panel.milling, edges="drill press"))
    assert check_upright(pressed, plan.milled) == ()
