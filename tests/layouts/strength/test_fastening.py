"""Loads of the cover screws, their holes and lengths, and what the rules say about them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from printed import assert_as_printed

from geom.features import Cylinder, Detail
from geom.findings import Finding
from geom.outline import outline_circle, outline_rectangle, reverse_path
from geom.standards import tables
from layouts.advice import Advised
from layouts.bending.bend import bend_cases
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.detail import detail_panel
from layouts.panel import Panel
from layouts.plan import CordLoop, Routed, Sealed
from layouts.rules.fastening_rules import check_fastening
from layouts.rules.insert_rules import check_inserts
from layouts.rules.screw_room_rules import check_screw_room
from layouts.strength.cover import cover_cases
from layouts.strength.fastening import (
    FRICTION,
    KEEP_CLOSED,
    METAL_SHARE,
    PROOF_MPA,
    add_pulls,
    fasten_covers,
    fasten_plan,
    share_loads,
)
from layouts.strength.screw_hole import find_insert, fit_screw, footprint_diameter, hole_wall, screw_hole
from layouts.strength.threads import insert_holds, tensile_area, thread_holds
from tests.layouts.sample_routed import sample_panel, sample_routed
from tests.layouts.strength.sample_cover import cord_plan, made_up
from tests.sample_plan import sample_advised

PLASTICS = tuple(name for name in tables.material_names() if tables.material(name).kind == "plastic")


def ring(radius: float, at: tuple[float, float] = (50.0, 50.0)) -> CordLoop:
    """Return a round cord."""
    return CordLoop("groove 1", "round", outline_circle(at, radius), 2.8, 2.1)


def make(panel: Panel, **changes: object) -> Panel:
    """Return a panel made otherwise."""
    return replace(panel, make=replace(panel.make, **changes))


def closed(panel: Panel) -> tuple[Panel, Routed, Sealed, Detail]:
    """Return a panel, closed and detailed."""
    routed, gaps = sample_routed(), clearances_of(panel)
    sealed = close_panel(panel, routed, gaps)
    return panel, routed, sealed, detail_panel(panel, routed, sealed, gaps)


def advised_at(celsius: float) -> Advised:
    """Return advice in which the coolant is as warm as that everywhere."""
    advised = sample_advised()
    steps = tuple(replace(s, inlet_c=celsius, outlet_c=celsius) for s in advised.heating.steps)
    return replace(advised, heating=replace(advised.heating, steps=steps, tank_c=celsius))


def checked(panel: Panel, celsius: float = 35.0) -> dict[str, list[Finding]]:
    """Return the findings on a panel's screws, by code."""
    panel, routed, sealed, detail = closed(panel)
    found: dict[str, list[Finding]] = {}
    for finding in (
        *check_fastening(panel, routed, sealed, detail, advised_at(celsius)),
        *check_inserts(panel, sealed, detail),
        *check_screw_room(panel, routed, sealed, detail),
    ):
        found.setdefault(finding.code, []).append(finding)
    return found


@pytest.mark.published(source="opening force: 0.1 MPa on 100 x 60 mm is 600 N; pressure times area")
def test_the_pressure_is_shared_out_whole() -> None:
    loads = share_loads(((0.0, 0.0), (100.0, 60.0), (37.0, 11.0)), (), 0.0, shapely.box(0, 0, 100, 60), 0.1)
    assert_as_printed(float(loads.sum()), "600")


@pytest.mark.published(source="symmetry: four screws on a circle take a quarter each of cord and pressure")
def test_four_screws_round_a_circle_take_a_quarter_each() -> None:
    # Turned off the raster of cells, so that no cell is as near to one as to another.
    turns = (0.3 + k * math.pi / 2 for k in range(4))
    screws = tuple((50.0 + 20 * math.cos(turn), 50.0 + 20 * math.sin(turn)) for turn in turns)
    disc = shapely.Point(50.0, 50.0).buffer(12.0, quad_segs=64)
    loads = share_loads(screws, (ring(12.0),), 2.4, disc, 0.1)
    whole = 2.4 * 2 * math.pi * 12 + 0.1 * disc.area
    assert loads == pytest.approx([whole / 4] * 4, rel=0.05)
    assert loads.sum() == pytest.approx(whole, rel=1e-12)


@settings(max_examples=25, deadline=None)
@given(
    screws=st.lists(st.tuples(st.floats(0, 100), st.floats(0, 100)), min_size=1, max_size=12, unique=True),
    radius=st.floats(3, 30),
    load=st.floats(0.5, 5),
    pressure=st.floats(0, 0.3),
)
def test_loads_add_up_and_lie_on_the_nearest(
    screws: list[tuple[float, float]], radius: float, load: float, pressure: float
) -> None:
    cord = ring(radius)
    disc = shapely.Point(50.0, 50.0).buffer(radius)
    loads = share_loads(tuple(screws), (cord,), load, disc, pressure)
    assert loads.sum() == pytest.approx(load * cord.length + pressure * disc.area, rel=1e-9)
    assert loads.min() >= 0.0
    # A screw that some other is nearer than to every place has nothing to hold.
    voronoi_idle = [
        k
        for k, at in enumerate(screws)
        if any(
            all(
                math.dist(other, p) < math.dist(at, p)
                for p in shapely.get_coordinates(disc.exterior).tolist()
            )
            for other in screws
        )
    ]
    assert all(loads[k] == 0.0 for k in voronoi_idle)


def test_an_island_of_the_body_bears_no_pressure() -> None:
    panel, _, sealed, detail = closed(sample_panel())
    (one,) = fasten_covers(panel, sealed, detail, 35.0)
    post = CordLoop("groove 99", "tank", reverse_path(outline_circle((145.0, 102.0), 8.0)), 2.8, 2.1)
    with_post = replace(sealed, loops=(*sealed.loops, post), screws=(*sealed.screws, (145.0, 102.0)))
    (other,) = fasten_covers(panel, with_post, detail, 35.0)
    assert len(other.loads_n) == len(one.loads_n) + 1
    assert other.loads_n[-1] > 0.0


def test_shares_agree_with_the_bent_cover() -> None:
    """Reactions of the screws in finite elements of the whole cover, lying on the body."""
    plan = cord_plan()
    (one,) = fasten_plan(plan)
    test = cover_cases(plan, "back")[1]
    (bent,) = bend_cases((test.plate,))
    shares, reactions = np.array(one.loads_n), np.array(bent.reactions_n)
    # Where the cover presses on the body beside a screw, it pulls on it by as much more.
    assert reactions.sum() - bent.contact_n == pytest.approx(shares.sum(), rel=2e-3)
    assert reactions.max() == pytest.approx(shares.max(), rel=0.2)
    assert np.corrcoef(shares, reactions)[0, 1] > 0.95


def test_what_a_bent_cover_pulls_counts_where_it_is_more() -> None:
    plan = cord_plan()
    (plain,) = fasten_plan(plan)
    bending = made_up(plan, (0.01, 1.0), (0.01, 1.0))
    pried = 2.2 * max(plain.loads_n)
    case = bending.cases[1]
    pulls = (pried, *(0.0 for _ in case.bent.reactions_n[1:]))
    cases = (bending.cases[0], replace(case, bent=replace(case.bent, reactions_n=pulls)))
    pulled = add_pulls(plan, (replace(bending, cases=cases),))
    (one,) = fasten_plan(pulled)
    assert one.loads_n == (pried, *plain.loads_n[1:])
    assert one.shares_n == plain.loads_n
    assert one.asked_n == pytest.approx(KEEP_CLOSED * pried)
    assert (plain.calculated, one.calculated) == (False, True)
    advised = plan.advised
    before = check_fastening(plan.panel, plan.routed, plan.sealed, plan.detail, advised)
    after = check_fastening(plan.panel, plan.routed, pulled.sealed, plan.detail, advised)
    assert "screw.thread" not in {f.code for f in before}
    (thread,) = [f for f in after if f.code == "screw.thread"]
    assert f"is pulled by {pried:.0f} N" in thread.text


def test_inserts_have_their_wall_wherever_they_are_placed() -> None:
    for name in ("M3", "M4", "M5"):
        panel, _, sealed, detail = closed(make(sample_panel(), inserts=True, screw=name))
        assert sealed.screws
        assert [f.severity for f in check_inserts(panel, sealed, detail)] == ["note"]


def test_preload_keeps_the_joint_closed_and_harms_nothing() -> None:
    panel, _, sealed, detail = closed(sample_panel())
    (one,) = fasten_covers(panel, sealed, detail, 35.0)
    assert one.asked_n == pytest.approx(KEEP_CLOSED * max(one.loads_n))
    assert max(one.loads_n) <= one.preload_n <= min(one.holds_n, one.head_holds_n)
    assert one.torque_nm[0] < one.torque_nm[1]
    assert FRICTION[0] < FRICTION[1]
    (hot,) = fasten_covers(panel, sealed, detail, 75.0)
    assert hot.holds_n < one.holds_n
    assert hot.preload_n <= hot.holds_n


def test_a_metal_joint_is_tightened_so_that_it_does_not_work_loose() -> None:
    panel, _, sealed, detail = closed(make(sample_panel(), material="aluminium 6082-T6"))
    (one,) = fasten_covers(panel, sealed, detail, 35.0)
    assert one.washer == 0.0
    assert one.preload_n == pytest.approx(METAL_SHARE * PROOF_MPA * tensile_area(4.0, 0.7))
    assert one.preload_n > one.asked_n
    mixed, _, sealed, detail = closed(make(sample_panel(), material="aluminium 6082-T6", cover_material="PC"))
    (other,) = fasten_covers(mixed, sealed, detail, 35.0)
    assert other.washer == 9.0
    assert other.preload_n == pytest.approx(min(other.asked_n, other.head_holds_n))


@pytest.mark.parametrize("closing", ["bonded", "one-piece"])
def test_nothing_is_fastened_without_a_cord(closing: str) -> None:
    panel = sample_panel(closing)  # type: ignore[arg-type]
    routed, gaps = sample_routed(closing), clearances_of(panel)  # type: ignore[arg-type]
    sealed = close_panel(panel, routed, gaps)
    detail = detail_panel(panel, routed, sealed, gaps)
    assert fasten_covers(panel, sealed, detail, 35.0) == ()
    assert check_fastening(panel, routed, sealed, detail, advised_at(35.0)) == ()
    assert check_inserts(panel, sealed, detail) == ()
    assert check_screw_room(panel, routed, sealed, detail) == ()


@settings(max_examples=150, deadline=None)
@given(
    name=st.sampled_from(tables.screw_names()),
    body=st.floats(8, 45),
    cover=st.floats(1.5, 15),
    material=st.sampled_from(tables.material_names()),
    inserts=st.booleans(),
)
def test_the_tip_never_touches_the_bottom(
    name: str, body: float, cover: float, material: str, inserts: bool
) -> None:
    panel = make(sample_panel(), screw=name, body=body, cover=cover, material=material, inserts=inserts)
    fit, row = fit_screw(panel), tables.screw(name)
    assert screw_hole(panel) == (fit.diameter, fit.depth)
    assert fit.depth <= body - panel.rules.least_wall + 1e-9
    assert hole_wall(panel) >= panel.rules.least_wall
    assert (fit.insert is not None) == (inserts and tables.material(material).kind == "plastic")
    assert fit.diameter == (row.tap_drill if fit.insert is None else fit.insert.hole_diameter)
    if fit.length is None:
        assert fit.engagement == 0.0
        return
    assert fit.length in tables.screw_lengths(row)
    tip = fit.length - cover - (row.washer_thickness if tables.material(material).kind == "plastic" else 0.0)
    assert tip > 0.0
    assert tip + min(2 * row.pitch, 0.5 * row.diameter, 1.0) <= fit.depth + 1e-6
    assert fit.engagement <= tip + 1e-9
    shorter = [length for length in tables.screw_lengths(row) if length < fit.length]
    if fit.engagement >= fit.needed and shorter:
        assert shorter[-1] - fit.grip < fit.needed


@pytest.mark.published(source="engagement 2 d in plastics, 1.5 d in aluminium; ISO 4762 lengths: by hand")
def test_screws_as_chosen_by_hand() -> None:
    acrylic = fit_screw(sample_panel())
    # 8 mm of cover, 0.9 mm of washer and 8 mm of thread: 16 is too short, 20 leaves 11.1; a pitch of 0.7 mm to spare
    # and two for the tap's tip make the hole 13.2 deep.
    assert (acrylic.length, acrylic.engagement, acrylic.depth) == pytest.approx((20.0, 11.1, 13.2))
    assert acrylic.tapped == pytest.approx(11.8)
    metal = fit_screw(make(sample_panel(), material="aluminium 6082-T6", cover=6.0))
    assert (metal.length, metal.engagement, metal.depth) == pytest.approx((12.0, 6.0, 8.1))
    inserted = fit_screw(make(sample_panel(), inserts=True))
    assert inserted.insert is not None
    assert (inserted.length, inserted.engagement, inserted.depth) == pytest.approx((16.0, 7.1, 9.1))
    assert footprint_diameter(sample_panel()) == 9.0
    assert footprint_diameter(make(sample_panel(), material="aluminium 6082-T6")) == 7.22


@given(body=st.floats(10.0, 30.0), cover=st.floats(5.0, 12.0))
def test_the_longest_screw_in_the_thinnest_cover_stays_in_full_thread(body: float, cover: float) -> None:
    """A pitch of full thread is left under the tip: M4 to length 0.42 mm over (ISO 4759-1), cover 0.2 mm under."""
    fit = fit_screw(make(sample_panel(), body=body, cover=cover))
    if fit.length is not None:
        assert fit.tapped - fit.engagement >= 0.7 - 1e-9
        assert fit.depth - fit.tapped >= min(0.5 * 4.0, 2 * 0.7) - 1e-9


def test_holes_of_inserts_are_cut_as_the_table_says() -> None:
    *_, detail = closed(make(sample_panel(), inserts=True))
    holes = [f for f in detail.features if f.name.startswith("cover screw ")]
    assert holes
    for hole in holes:
        assert hole.name.endswith("M4 insert")
        assert isinstance(hole.shape, Cylinder)
        assert (hole.shape.radius, hole.shape.length) == pytest.approx((2.8, 9.1))


def test_a_sound_panel_has_notes_only() -> None:
    found = checked(sample_panel())
    assert {f.severity for one in found.values() for f in one} == {"note"}
    assert found.keys() == {"screw.torque", "screw.insert"}
    (torque,) = found["screw.torque"]
    assert "again after a day" in torque.remedy
    assert "thread locker" in torque.remedy
    assert "M4 x 8.1 in holes of 5.6 mm, 9.1 mm deep" in found["screw.insert"][0].remedy
    assert checked(make(sample_panel(), material="aluminium 6082-T6")) == {}


def pressed_to(share: float, holding: str) -> Panel:
    """Return the sample at the test pressure that pulls the most loaded screw to a share of what it holds."""
    panel, _, sealed, detail = closed(sample_panel())
    # Each pull is the cord's, and grows with the pressure.
    cord, more = (
        fasten_covers(
            replace(panel, rules=replace(panel.rules, test_pressure_pa=pressure)), sealed, detail, 35.0
        )[0]
        for pressure in (0.0, 1e5)
    )
    limit = share * getattr(cord, holding)
    pressure = min(
        1e5 * (limit - a) / (b - a) for a, b in zip(cord.loads_n, more.loads_n, strict=True) if b > a + 1e-9
    )
    return replace(panel, rules=replace(panel.rules, test_pressure_pa=pressure))


def check_as_closed(panel: Panel) -> dict[str, Finding]:
    """Return the findings on the fastening of the sample with its own screws, at that panel's test pressure."""
    _, routed, sealed, detail = closed(sample_panel())
    return {f.code: f for f in check_fastening(panel, routed, sealed, detail, advised_at(35.0))}


def test_a_thread_that_is_pulled_out_is_told_with_what_would_hold() -> None:
    thread = check_as_closed(pressed_to(1.05, "holds_n"))["screw.thread"]
    assert thread.severity == "fault"
    assert thread.value is not None
    assert thread.limit is not None
    assert thread.value < thread.limit
    assert thread.unit == "N"
    assert "screws, which bear" in thread.remedy
    assert check_as_closed(pressed_to(0.95, "holds_n"))["screw.thread"].severity == "caution"
    assert "screw.thread" not in check_as_closed(pressed_to(0.66, "holds_n"))
    assert check_as_closed(pressed_to(1.05, "head_holds_n"))["screw.head"].severity == "fault"
    assert "screw.head" not in check_as_closed(pressed_to(0.66, "head_holds_n"))
    caution = check_as_closed(pressed_to(0.95, "head_holds_n"))["screw.head"]
    assert caution.severity == "caution"
    assert "washers of 12 mm (large_washers = true in [make]; ISO 7093-1)" in caution.remedy


def test_a_larger_screw_in_the_remedy_does_hold() -> None:
    pressed = pressed_to(0.9, "holds_n")
    thread = check_as_closed(pressed)["screw.thread"]
    name = next(n for n in tables.screw_names() if f"{n} screws, which bear" in thread.remedy)
    allowable = tables.material(pressed.make.material).allowable_at(35.0, lasting=True)
    fit = fit_screw(make(pressed, screw=name))
    assert thread.limit is not None
    assert thread_holds(tables.screw(name), fit.engagement, allowable) >= thread.limit


def test_a_thin_body_and_a_length_that_does_not_fit() -> None:
    # Hardly any pressure, so that the threads are told by their lengths alone.
    gentle = replace(sample_panel(), rules=replace(sample_panel().rules, test_pressure_pa=1e3))
    (thread,) = checked(make(gentle, body=16.0, screw="M8"))["screw.thread"]
    assert "needs 16 mm" in thread.text
    found = checked(make(gentle, body=18.0, cover=9.0, screw="M5"))
    assert "screw.thread" not in found
    (length,) = found["screw.length"]
    assert length.severity == "caution"
    # The remedy is right: a cover that much thinner has its screw.
    thinner = float(length.remedy.split("cover ")[1].split(" mm")[0])
    fit = fit_screw(make(sample_panel(), body=18.0, cover=9.0 - thinner, screw="M5"))
    assert fit.engagement >= fit.needed - 0.05
    (none,) = checked(make(gentle, body=18.0, cover=39.9))["screw.length"]
    assert none.severity == "fault"


def test_inserts_are_refused_where_they_do_not_belong() -> None:
    (metal,) = checked(make(sample_panel(), material="aluminium 6082-T6", inserts=True))["screw.insert"]
    assert metal.severity == "caution"
    shallow = make(sample_panel(), screw="M8", body=14.5, inserts=True)
    deep = [f for f in checked(shallow)["screw.insert"] if f.severity == "fault"]
    assert deep
    assert deep[0].limit == pytest.approx(13.7)
    assert find_insert(make(sample_panel(), material="aluminium 6082-T6")) is None


def test_the_wall_round_an_insert_is_measured() -> None:
    panel, routed, sealed, _ = closed(make(sample_panel(), inserts=True))
    at = (2.8 + 1.0, 70.0)
    near = replace(sealed, screws=(at,))
    detail = detail_panel(panel, routed, near, clearances_of(panel))
    (wall,) = (f for f in check_inserts(panel, near, detail) if f.severity == "caution")
    assert wall.value == pytest.approx(1.0, abs=0.1)
    assert wall.limit == 2.1
    assert "the edge" in wall.text


def test_inserts_hold_by_their_knurls() -> None:
    # Half of pi 6.3 * 8.1 mm2, at 10 / sqrt(3) MPa.
    assert insert_holds(6.3, 8.1, 10.0) == pytest.approx(math.pi * 6.3 * 8.1 / 2 * 10 / math.sqrt(3))


def test_a_head_under_the_pump_is_a_fault() -> None:
    panel = replace(sample_panel(), pump=replace(sample_panel().pump, on="back"))
    panel, routed, sealed, detail = closed(panel)
    under = replace(sealed, screws=((150.0, 50.0),))
    (fault,) = check_screw_room(panel, routed, under, detail)
    assert (fault.code, fault.severity) == ("screw.room", "fault")
    assert fault.at_mm == (150.0, 50.0, -8.0)
    assert "the pump" in fault.text


def test_heads_that_touch_and_washers_over_the_edge() -> None:
    panel, routed, sealed, detail = closed(sample_panel())
    x, y = sealed.screws[0]
    (fault,) = check_screw_room(panel, routed, replace(sealed, screws=(*sealed.screws, (x + 6.0, y))), detail)
    assert (fault.severity, fault.value, fault.limit) == ("fault", pytest.approx(6.0), 9.0)
    (caution,) = check_screw_room(panel, routed, replace(sealed, screws=((3.0, 70.0),)), detail)
    assert (caution.severity, caution.value) == ("caution", pytest.approx(3.0, abs=0.05))


def test_a_screw_beside_a_fitting_or_its_spanner() -> None:
    panel, routed, sealed, detail = closed(sample_panel())
    port = replace(routed.ports[0], on="back", at=(60.0, 40.0, -8.0))
    behind = replace(routed, ports=(port,))
    row = tables.thread("G1/4")
    head = tables.screw("M4").head_diameter / 2
    for off, severity in ((row.collar / 2, "fault"), (row.collar / 2 + head + 1, "caution")):
        (found,) = check_screw_room(panel, behind, replace(sealed, screws=((60.0 + off, 40.0),)), detail)
        assert found.severity == severity
        assert port.name in found.text
    clear = row.spanner_radius + head + 0.1
    assert not check_screw_room(panel, behind, replace(sealed, screws=((60.0 + clear, 40.0),)), detail)


def test_the_sample_outline_is_that_of_the_panel() -> None:
    """The rules measure to the body's blank."""
    panel, _, _, detail = closed(sample_panel())
    assert detail.blanks[0].loop == outline_rectangle(
        0.0, 0.0, panel.width, panel.height, panel.corner_radius
    )
