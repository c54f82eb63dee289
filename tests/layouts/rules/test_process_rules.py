"""Rules of the printing process: published walls and threads, planted faults found where they are, silence else."""

from __future__ import annotations

from dataclasses import replace

import pytest
from printed import assert_as_printed
from sample_demos import plan_demo

from geom.features import Cylinder
from geom.measured import Wall
from geom.printing.hollows import Cavity
from geom.printing.mesh_fits import PrintFit, WideBore
from geom.standards import tables
from geom.standards.processes import find_process
from layouts.panel import Panel, Printing
from layouts.plan import Plan, Run
from layouts.printing.plan_fits import plan_fits
from layouts.printing.process import is_printed, process_of
from layouts.rules.process_rules import (
    check_fits,
    check_measured_walls,
    check_print_threads,
    check_print_walls,
    tight_wall,
)
from layouts.rules.resin_rules import check_cavities, check_drain_paths


def sound() -> Plan:
    """Return a panel printed in one piece."""
    return plan_demo("cupboard-server")


def printed(panel: Panel, **keys: object) -> Panel:
    return replace(panel, printing=replace(Printing(), **keys))


RESIN = {"process": "resin"}
UP = (0.0, 0.0, 1.0)


@pytest.mark.published(source="spoolhound.com/wall-guide.html, Printing Watertight Parts: 4 walls, 1.6 mm")
def test_four_lines_of_filament_hold_water():
    panel = replace(printed(sound().panel, line_width=0.4))
    assert_as_printed(process_of(panel).tight_wall, "1.6")
    assert_as_printed(process_of(printed(panel, line_width=0.6)).tight_wall, "2.4")


@pytest.mark.published(source="hycubeworks.in/design_guide: FDM, vertical wall 0.8 mm, overhangs 45°")
def test_least_wall_and_overhang_of_filament():
    row = find_process("filament")
    assert_as_printed(row.least_wall, "0.8")
    assert_as_printed(row.overhang_deg, "45")


@pytest.mark.published(source="3dservicesusa.com/blog/design-tips: bridges up to 10 mm")
def test_bridge_of_filament():
    assert_as_printed(find_process("filament").bridge, "10")


@pytest.mark.published(source="addema.se/guides-sla: unsupported walls 0.6 mm, overhangs 19° from level")
def test_least_wall_and_overhang_of_resin():
    row = find_process("resin")
    assert_as_printed(row.least_wall, "0.6")
    assert_as_printed(90 - row.overhang_deg, "19")


@pytest.mark.published(
    source="layerx3d.in, SLA and DLP Resin 3D Printing Design Rules, Wall Thickness Guidelines: supported walls 1.0 mm "
    "recommended"
)
def test_tight_wall_of_resin():
    assert_as_printed(process_of(printed(sound().panel, **RESIN)).tight_wall, "1.0")


@pytest.mark.published(
    source="photocentricgroup.com/design-rules-for-3d-printing, Horizontal holes: over 5 mm they need supports"
)
def test_bridge_of_resin():
    assert_as_printed(find_process("resin").bridge, "5")


@pytest.mark.published(
    source="Design constraints of stereolithography, gist.github.com/unsalted/63167e341210cd741cfaf263fb84a5ed: drain "
    "hole 3.5 mm"
)
def test_drain_hole_of_resin():
    assert_as_printed(find_process("resin").drain_bore, "3.5")


@pytest.mark.published(
    source="help.makelab.com, How to Design Holes, Threads, and Inserts for 3D Printing, 1: 0.1 to 0.2 mm on the "
    "radius for FDM, 0.05 to 0.1 mm for SLA"
)
@pytest.mark.parametrize(("name", "least", "most"), [("filament", 0.2, 0.4), ("resin", 0.1, 0.2)])
def test_bores_print_narrower(name, least, most):
    assert least <= find_process(name).bore_offset <= most


@pytest.mark.published(
    source="help.makelab.com, How to Design Holes, Threads, and Inserts for 3D Printing, 2: threads from M6 on for FDM "
    "(pitch 1 mm; M5 has 0.8 mm), from M3 on for SLA (0.5 mm; M2.5 has 0.45 mm)"
)
@pytest.mark.parametrize(("keys", "prints", "does_not"), [({}, 1.0, 0.8), (RESIN, 0.5, 0.45)])
def test_finest_thread(keys, prints, does_not):
    assert does_not < process_of(printed(sound().panel, **keys)).least_pitch <= prints


def test_walls_asked_for():
    panel = sound().panel
    assert check_print_walls(panel) == ()
    thin = replace(panel, rules=replace(panel.rules, least_wall=1.5))
    (found,) = check_print_walls(thin)
    assert (found.code, found.severity, found.value, found.limit) == ("print.wall", "caution", 1.5, 2.0)
    assert "lines of 0.45 mm holds it from 2 mm on" in found.text
    assert check_print_walls(replace(thin, make=replace(panel.make, method="milled"))) == ()


def test_the_process_or_the_material_decides():
    panel = sound().panel
    assert tight_wall(panel) == 2.0
    assert tight_wall(printed(panel, line_width=0.8)) == pytest.approx(3.2)


def test_a_thin_wet_wall_is_found_where_it_is():
    panel = sound().panel
    walls = (
        Wall(2.2, 1.5, ("a", "b"), ((0.0, 0.0, 0.0), (2.2, 0.0, 0.0)), True),
        Wall(1.7, 1.5, ("channel x", "outer left"), ((0.0, 4.0, 5.0), (1.7, 4.0, 5.0)), True),
        Wall(0.7, 0.6, ("screw 1", "screw 2"), ((9.0, 4.0, 5.0), (9.7, 4.0, 5.0)), False),
        Wall(1.2, 1.5, ("c", "d"), ((0.0, 0.0, 0.0), (1.2, 0.0, 0.0)), True),
    )
    wet, dry = check_measured_walls(panel, walls)
    assert wet.at_mm == pytest.approx((0.85, 4.0, 5.0))
    assert (wet.value, wet.limit, wet.features) == (1.7, 2.0, ("channel x",))
    assert dry.at_mm == pytest.approx((9.35, 4.0, 5.0))
    assert (dry.value, dry.limit) == (0.7, pytest.approx(0.9))
    assert check_measured_walls(panel, walls[:1]) == ()


def test_fine_threads_are_told_and_coarse_ones_not():
    plan = plan_demo("synthesizer-rack")
    panel = plan.panel
    assert check_print_threads(panel, plan.routed, plan.detail) == ()
    coarse = replace(panel, printing=replace(panel.printing, line_width=0.6))
    (found,) = check_print_threads(coarse, plan.routed, plan.detail)
    assert (found.severity, found.value, found.limit) == ("caution", pytest.approx(25.4 / 28), 1.2)
    assert found.at_mm == plan.routed.ports[0].at
    tapped = replace(panel, printing=replace(coarse.printing, port_threads="tapped"))
    assert check_print_threads(tapped, plan.routed, plan.detail) == ()


@pytest.mark.parametrize(
    ("clearance", "severity"), [(0.58, None), (0.59, "caution"), (0.87, "caution"), (0.88, "fault")]
)
def test_clearance_leaves_enough_of_a_thread(clearance, severity):
    """Half of the height of G1/8, 0.5809 mm, is lost on the radius with that on the diameter; a quarter is left at
    0.871 mm."""
    plan = plan_demo("synthesizer-rack")
    panel = printed(plan.panel, port_threads="printed", thread_clearance=clearance)
    found = check_print_threads(panel, plan.routed, plan.detail)
    loose = [f for f in found if "wider on the diameter" in f.text]
    assert [f.severity for f in loose] == [severity] * (severity is not None)
    for finding in loose:
        assert (finding.code, finding.value) == ("print.thread", clearance)
        assert finding.limit == pytest.approx(0.640327 * 25.4 / 28)
        assert finding.at_mm == plan.routed.ports[0].at
        assert 'thread_clearance = "0.5 mm" or less' in finding.remedy
    tapped = printed(plan.panel, port_threads="tapped", thread_clearance=clearance)
    assert check_print_threads(tapped, plan.routed, plan.detail) == ()


def test_a_thread_that_is_not_there_is_not_cut():
    plan = plan_demo("synthesizer-rack")
    for clearance, cut in ((1.1, True), (1.17, False)):
        panel = printed(plan.panel, port_threads="printed", thread_clearance=clearance)
        body, _ = plan_fits(panel, plan.routed, plan.detail, plan.printed)
        assert bool(body.threads) is cut


def test_a_seat_is_made_wider_and_a_spot_face_not():
    plan = sound()
    (panel,) = plan_fits(plan.panel, plan.routed, plan.detail, plan.printed)
    names = [wide.name for wide in panel.bores]
    assert "pump seat" in names
    assert not any(name.startswith("spot face") for name in names)


def test_a_bore_that_holds_no_turn_is_a_fault_and_stays_plain():
    plan = plan_demo("synthesizer-rack")
    port = next(p for p in plan.routed.ports if p.on == "front")
    short = replace(port, depth=0.5 + plan.panel.channel.depth / 2 + 0.4)
    routed = replace(plan.routed, ports=tuple(short if p is port else p for p in plan.routed.ports))
    found = check_print_threads(plan.panel, routed, plan.detail)
    (fault,) = [f for f in found if f.severity == "fault"]
    assert (fault.code, fault.features, fault.at_mm) == ("print.thread", (port.name,), port.at)
    assert fault.value == pytest.approx(0.4)
    assert fault.limit == pytest.approx(0.640327 * 25.4 / 28)
    names = {
        cut.name for fit in plan_fits(plan.panel, routed, plan.detail, plan.printed) for cut in fit.threads
    }
    assert len(names) == len(plan.routed.ports) - 1
    tapped = replace(plan.panel, printing=replace(plan.panel.printing, port_threads="tapped"))
    assert check_print_threads(tapped, routed, plan.detail) == ()


def test_threads_of_screws_are_left_to_a_tap():
    plan = sound()
    (found,) = check_print_threads(plan.panel, plan.routed, plan.detail)
    assert (found.code, found.severity) == ("print.thread", "note")
    assert "he thread M3 of pump screw 1 M3 and 3 more screw holes is too fine" in found.text
    assert found.features == tuple(f"pump screw {number} M3" for number in range(1, 5))


def test_wider_bores_tell_what_they_leave():
    panel = sound().panel
    bore = WideBore("bore", Cylinder((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 9.0, 2.0))
    wall = Wall(2.41, 2.4, ("bore", "channel x"), ((2.0, 0.0, 3.0), (4.41, 0.0, 3.0)), True)

    def tell(offset: float):
        return check_fits(panel, (PrintFit("panel", UP, (bore,), offset),), (wall,))

    assert tell(0.01) == ()
    (note,) = tell(0.2)
    assert (note.code, note.severity, note.value) == ("print.fit", "note", pytest.approx(2.31))
    assert note.at_mm == pytest.approx((3.205, 0.0, 3.0))
    (caution,) = tell(1.0)
    assert caution.severity == "caution"
    (fault,) = tell(5.0)
    assert fault.severity == "fault"


def test_every_bore_is_made_wider_in_its_own_part():
    plan = plan_demo("synthesizer-rack")
    body, cover = plan_fits(plan.panel, plan.routed, plan.detail, plan.printed)
    assert (body.part, cover.part) == ("body", "cover")
    assert len(cover.bores) == len(plan.sealed.screws)
    assert all(wide.through for wide in cover.bores)
    assert not any(wide.through for wide in body.bores)
    assert {cut.name for cut in body.threads} == {f.name for f in plan.detail.features if f.kind == "port"}
    # Crests fade beyond the 8 mm of full thread of G1/8, over its height of 0.640327 pitches.
    assert all(cut.length == pytest.approx(8.0 + 0.640327 * 25.4 / 28) for cut in body.threads)
    tapped = replace(plan.panel, printing=replace(plan.panel.printing, port_threads="tapped"))
    plain, _ = plan_fits(tapped, plan.routed, plan.detail, plan.printed)
    assert plain.threads == ()
    assert len(plain.bores) == len(body.bores) + len(body.threads)


def test_a_sheet_as_cover_is_not_printed():
    plan = plan_demo("synthesizer-rack")
    panel = replace(plan.panel, make=replace(plan.panel.make, cover_material="aluminium 6082-T6"))
    assert [fit.part for fit in plan_fits(panel, plan.routed, plan.detail, plan.printed)] == ["body"]
    assert is_printed(plan.panel, "cover")
    assert is_printed(panel, "body")
    assert not is_printed(panel, "cover")
    polycarbonate = replace(panel, make=replace(panel.make, cover_material="PC"))
    assert is_printed(polycarbonate, "cover")
    milled = replace(polycarbonate, make=replace(polycarbonate.make, method="milled"))
    assert not is_printed(milled, "body")


def test_walls_of_a_sheet_are_none_of_the_printers():
    panel = plan_demo("synthesizer-rack").panel
    sheet = replace(panel, make=replace(panel.make, cover_material="aluminium 6082-T6"))
    wall = Wall(0.7, 0.6, ("hole 1", "hole 2"), ((9.0, 4.0, -5.0), (9.7, 4.0, -5.0)), False)
    assert [f.code for f in check_measured_walls(panel, (wall,))] == ["print.wall"]
    assert check_measured_walls(sheet, (wall,)) == ()


def test_resin_drains_from_a_sound_panel():
    plan = sound()
    assert check_drain_paths(printed(plan.panel, **RESIN), plan.routed, plan.detail) == ()


def test_a_channel_with_one_opening_is_found_at_it():
    plan = sound()
    name = next(f.name for f in plan.detail.features if f.name.startswith("port radiator inlet"))
    detail = replace(plan.detail, features=tuple(f for f in plan.detail.features if f.name != name))
    found = check_drain_paths(printed(plan.panel, **RESIN), plan.routed, detail)
    one = next(f for f in found if f.unit == "openings")
    left = next(f for f in plan.detail.features if f.name.startswith("port server block outlet"))
    assert (one.code, one.value) == ("print.drain", 1.0)
    assert one.at_mm == left.shape.mouth
    assert check_drain_paths(plan.panel, plan.routed, detail) == ()


def test_a_dead_end_is_found_at_its_end():
    plan = sound()
    channel = next(c for c in plan.routed.channels if c.name == "drain")
    foot = next(p.foot for p in plan.routed.ports if p.name == "drain")
    dead = (foot[0] - 40.0, foot[1])
    longer = replace(channel, runs=(*channel.runs, Run((foot, dead))))
    routed = replace(
        plan.routed, channels=tuple(longer if c.name == "drain" else c for c in plan.routed.channels)
    )
    panel = printed(plan.panel, **RESIN)
    (found,) = check_drain_paths(panel, routed, plan.detail)
    assert found.at_mm == pytest.approx((*dead, panel.make.body / 2), abs=0.1)
    assert 25.0 < found.value < 40.0
    assert found.features == ("channel drain",)


def test_cavities():
    panel = sound().panel
    cavity = Cavity((1.0, 2.0, 3.0), 40.0)
    (caution,) = check_cavities(panel, "panel", (cavity,))
    assert (caution.code, caution.severity) == ("print.cavity", "caution")
    (fault,) = check_cavities(printed(panel, **RESIN), "panel", (cavity,))
    assert (fault.code, fault.severity, fault.at_mm) == ("print.cavity", "fault", (1.0, 2.0, 3.0))
    assert check_cavities(panel, "panel", ()) == ()


def test_each_part_is_judged_by_its_own_material(monkeypatch: pytest.MonkeyPatch):
    """A body of PETG holds coolant from 2 mm on; were PC tight from 3 mm on only, so were a cover of it."""
    row = tables.material("PC")
    assert row.least_wall_printed == tables.material("PETG").least_wall_printed == 2.0
    rows = {"PC": replace(row, least_wall_printed=3.0), "PETG": tables.material("PETG")}
    monkeypatch.setattr(tables, "material", rows.__getitem__)
    panel = sound().panel
    covered = replace(panel, make=replace(panel.make, closing="cord", cover_material="PC"))
    body = Wall(2.2, 1.5, ("a", "b"), ((0.0, 0.0, 5.0), (2.2, 0.0, 5.0)), True)
    cover = Wall(2.2, 1.5, ("c", "d"), ((0.0, 0.0, -2.0), (2.2, 0.0, -2.0)), True)
    assert check_measured_walls(covered, (body,)) == ()
    (found,) = check_measured_walls(covered, (cover,))
    assert (found.value, found.limit) == (2.2, 3.0)
    assert "PC printed" in found.text
    asked = replace(covered, rules=replace(covered.rules, least_wall=2.5))
    (least,) = check_print_walls(asked)
    assert (least.value, least.limit) == (2.5, 3.0)
    assert check_print_walls(replace(asked, make=panel.make)) == ()
