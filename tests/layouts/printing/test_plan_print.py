"""The plan of a print: pose, roofs and split agree with each other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from geom.features import Feature, Vault
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing import plan_print as planning
from layouts.printing import split as splitting
from layouts.printing.plan_print import plan_print
from layouts.printing.poses import choose_pose, list_poses
from layouts.printing.printed import Pose, Printed, Split
from layouts.printing.roof_shapes import shape_roofs
from layouts.printing.split import split_print
from tests.layouts.printing.sample_split import STRAIGHT, split_panel, split_routed

WIDE = split_routed(STRAIGHT, (12.0, 12.0))


def printed_panel() -> Panel:
    panel = split_panel(method="printed", material="PETG")
    return replace(panel, make=replace(panel.make, body=34.0))


def test_all_three_are_of_one_pose():
    panel = printed_panel()
    printed = plan_print(panel, WIDE)
    assert printed is not None
    assert printed.split is not None
    assert any(roof.kind == "pointed" for roof in printed.roofs)
    assert printed.pose == choose_pose(panel, WIDE, printed.split)
    assert printed.roofs == shape_roofs(panel, WIDE, printed.pose)
    assert printed.split == split_print(panel, WIDE, None, Printed(printed.pose, printed.roofs))


def test_pose_follows_the_split_that_roofs_move(monkeypatch: pytest.MonkeyPatch):
    """Once the joint is found again with roofs, the choice of the pose is made again too."""
    panel = printed_panel()
    back, front = list_poses(panel)[:2]
    assert (back.lies_on, front.lies_on) == ("back", "front")
    flat = split_print(panel, WIDE)
    assert isinstance(flat, Split)
    moved = replace(flat, at=flat.at + 1.0)

    def find(
        panel: Panel, routed: Routed, warmest_c: float | None = None, laid: Printed | None = None
    ) -> Split:
        return flat if laid is None else moved

    def choose(panel: Panel, routed: Routed, split: Split | None = None) -> Pose:
        return back if split is flat else front

    monkeypatch.setattr(planning, "split_print", find)
    monkeypatch.setattr(planning, "choose_pose", choose)
    printed = plan_print(panel, WIDE)
    assert printed is not None
    assert (printed.pose, printed.split) == (front, moved)
    assert printed.roofs == shape_roofs(panel, WIDE, front)


def test_screws_keep_off_the_roofs(monkeypatch: pytest.MonkeyPatch):
    """What the ground for screws and pins is surveyed with are the channels as they are printed."""
    panel, seen = printed_panel(), []
    survey = splitting.survey_ground

    def look(panel: Panel, cut: tuple[Feature, ...], depth: float) -> splitting.Ground:
        seen.append([feature for feature in cut if isinstance(feature.shape, Vault)])
        return survey(panel, cut, depth)

    monkeypatch.setattr(splitting, "survey_ground", look)
    plan_print(panel, WIDE)
    assert seen[0] == []
    assert len(seen[-1]) == 2
