"""A panel printed in one piece with channels wider than a bridge: made whole, and no roof inside asks for support."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from exports.check_solids import check_solids
from exports.pipeline import join_findings, plan_panel
from geom.findings import has_fault
from geom.standards import tables
from layouts import panels
from layouts.plan import Plan
from layouts.printing.process import process_of
from layouts.wet_volume import channel_volume_ml

ROOMIER = {
    'size = ["200 mm", "160 mm"]': 'size = ["240 mm", "200 mm"]',
    'room = ["220 mm", "220 mm", "220 mm"]': 'room = ["260 mm", "260 mm", "260 mm"]',
    'within = ["108 mm", "12 mm", "190 mm", "95 mm"]': 'within = ["108 mm", "12 mm", "235 mm", "130 mm"]',
    'outlet = { on = "front", within = ["25 mm", "35 mm", "40 mm", "50 mm"] }': (
        'outlet = { on = "front", within = ["25 mm", "35 mm", "45 mm", "100 mm"] }'
    ),
    'between = ["115 mm", "140 mm"]': 'between = ["115 mm", "180 mm"]',
    'outlet_offset = ["15 mm", "0 mm"]': 'outlet_offset = ["25 mm", "0 mm"]',
    'bend_radius = "10 mm"': 'bend_radius = "15 mm"',
    'body = "25 mm"': 'body = "28 mm"',
    'depth = "7 mm"': 'depth = "9 mm"',
}


def plan_wide(folder: Path, width: float, printing: str) -> Plan:
    """Return the plan of the printed demo with wider channels, and more room for them."""
    text = (Path(panels.__path__[0]) / "cupboard-server.toml").read_text(encoding="utf-8")
    for old, new in ROOMIER.items():
        assert old in text
        text = text.replace(old, new, 1)
    text = re.sub(r'^width = "7 mm"$', f'width = "{width:g} mm"', text, flags=re.MULTILINE)
    path = folder / "wide.toml"
    path.write_text(f"{text}\n[printing]\n{printing}\n", encoding="utf-8")
    return plan_panel(path)


def test_wide_channels_print_without_support_inside(tmp_path: Path) -> None:
    """12 mm wide, with the drain in line with the feed."""
    plan = plan_wide(tmp_path, 12.0, 'roofs = "round"\nlies_on = "front"')
    assert plan.printed is not None
    assert {roof.kind for roof in plan.printed.roofs} == {"round"}
    checked = check_solids(plan)
    codes = {finding.code for finding in join_findings(plan, checked)}
    assert not has_fault(checked.findings), checked.findings
    assert not {"print.roof", "print.bridge"} & codes
    assert "print.shape" in codes
    bridge = process_of(plan.panel).bridge
    (part,) = checked.poses
    assert all(roof.span <= bridge for roof in part.made.measure.roofs if roof.inside)
    assert checked.volumes.wet_solid == pytest.approx(checked.volumes.wet_plan, rel=1e-6)
    # The section is kept: what the plan reckons with holds, but for the round ends.
    assert channel_volume_ml(plan.panel, plan.routed) * 1e3 == pytest.approx(
        checked.volumes.wet_solid, rel=1e-2
    )


def test_flat_roofs_that_are_too_wide_are_found_by_the_plan_and_on_the_solids(tmp_path: Path) -> None:
    """Planted: flat roofs over 14 mm, lying; the plan's estimate gives way to the measure."""
    plan = plan_wide(tmp_path, 14.0, 'lies_on = "back"\nroofs = "flat"')
    planned = [finding for finding in plan.findings if finding.code == "print.bridge"]
    assert {finding.value for finding in planned} == {14.0}
    assert all('set roofs = "auto"' in finding.remedy.lower() for finding in planned)
    checked = check_solids(plan)
    measured = [f for f in join_findings(plan, checked) if f.code in ("print.bridge", "print.roof")]
    assert {finding.code for finding in measured} == {"print.roof"}
    assert {finding.severity for finding in measured} == {"fault"}
    top = (plan.panel.make.body + plan.panel.channel.depth) / 2
    places = {f.features[0]: f.at_mm for f in measured if f.at_mm is not None}
    for channel in ("channel pump - server block", "channel feed"):
        assert places[channel][2] == pytest.approx(top, abs=0.1)
    # Where a port's bore runs into a channel its round cap, higher up, is one roof with the channel's.
    bore = tables.thread("G1/4").tap_drill / 2
    middle = plan.panel.make.body / 2
    assert all(top - 0.1 <= at[2] <= middle + bore for at in places.values())
