"""Every panel that the project ships is planned, built and checked without a fault or a false alarm."""

import pytest
from sample_demos import plan_demo

from exports.check_solids import check_solids
from exports.pictures.closing_picture import draw_closing
from exports.pictures.filling_picture import draw_filling
from exports.pictures.panel_picture import draw_panel
from exports.pictures.setup_picture import draw_setups
from exports.pictures.tilt_picture import draw_tilts
from exports.pictures.tube_picture import draw_tubes
from exports.pipeline import plan_panel
from exports.report.html.whole import report_page
from geom.errors import LayoutError
from geom.findings import has_fault
from layouts.cost.quantities import cost_sheet
from layouts.panels.catalogue import TEMPLATE, demo_names, demo_path

LARGEST = "workshop-render"
"""Of all, by the bytes of its report."""


@pytest.mark.parametrize("name", [*demo_names(), TEMPLATE])
def test_a_shipped_panel_is_made_without_a_fault(name):
    plan = plan_demo(name)
    assert not has_fault(plan.findings)
    assert len(plan.routed.channels) >= 3
    checked = check_solids(plan)
    assert not has_fault(checked.findings)
    assert [f.code for f in checked.findings if f.code.startswith("wall.")] == []
    assert checked.volumes.wet_plan == pytest.approx(checked.volumes.wet_solid, rel=1e-5)
    assert checked.volumes.wet_mesh == pytest.approx(checked.volumes.wet_solid, rel=1e-3)
    for part in checked.volumes.parts:
        if part.rebuilt is not None:
            assert part.rebuilt == pytest.approx(part.solid, rel=1e-4)
    if name == LARGEST:
        drawn = {
            "panel.svg": draw_panel(plan, checked),
            "setups.svg": draw_setups(plan),
            "tilts.svg": draw_tilts(plan, checked.filling.tilts, checked.filling.left),
            "filling.svg": draw_filling(plan, checked.filling),
            "closing.svg": draw_closing(plan, "back"),
            "tubes.svg": draw_tubes(plan),
        }
        files = tuple((picture, picture) for picture in drawn)
        page = report_page(plan, checked, (*plan.findings, *checked.findings), cost_sheet(plan), drawn, files)
        assert len(page.encode()) < 2_500_000
        assert "Too large for this page" not in page


def test_the_scenarios_are_those_that_are_asked_for():
    plans = {name: plan_demo(name) for name in demo_names()}
    assert len(plans) == 6
    assert any((p.panel.make.method, p.panel.make.closing) == ("printed", "cord") for p in plans.values())
    assert max(len(plan.routed.channels) for plan in plans.values()) >= 8
    assert any(
        isinstance(step, tuple) and len(step) == 4 for plan in plans.values() for step in plan.panel.loop
    )
    assert any(plan.panel.make.closing == "one-piece" for plan in plans.values())
    two = [plan for plan in plans.values() if plan.panel.channel.layers == 2]
    assert any(run.layer == "front" for plan in two for c in plan.routed.channels for run in c.runs)
    assert any(channel.holes for plan in two for channel in plan.routed.channels)


def test_the_two_face_demo_cannot_be_laid_in_one_face(tmp_path):
    """Tank, drop and drain part the plate: what leaves on the left cannot reach the tank's right side."""
    text = demo_path("observatory-camera").read_text("utf-8")
    assert "\nlayers = 2" in text
    one_face = tmp_path / "one-face.toml"
    one_face.write_text(text.replace("\nlayers = 2", "\nlayers = 1"), encoding="utf-8")
    with pytest.raises(LayoutError, match=r'"radiator - tank" and "drain" .* proven') as stopped:
        plan_panel(one_face)
    assert "channel.layers = 2" in str(stopped.value)
