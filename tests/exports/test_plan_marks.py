"""Badges of findings in the plan: what they are about stays in sight."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from sample_plan import sample_plan

from exports.pictures.plan_picture import PANEL_HEIGHT, PANEL_WIDTH, draw_plan
from exports.pictures.svg import View
from layouts.rules.findings import make_finding


@pytest.mark.parametrize("number", [0, 2])
def test_a_badge_stands_beside_its_screw(number):
    plan = sample_plan()
    screw = plan.sealed.screws[number]
    finding = make_finding("screw.thread", "caution", "too much pull", "use more", at_mm=(*screw, 0.0))
    panel = plan.panel
    view = View(min(PANEL_WIDTH / panel.width, PANEL_HEIGHT / panel.height), panel.height)
    picture = draw_plan(replace(plan, findings=(finding,)))
    badge, _ = re.findall(r'<rect x="([-\d.]+)" y="([-\d.]+)" width="16" height="16" rx="3"', picture)
    middle = (float(badge[0]) + 8.0, float(badge[1]) + 8.0)
    assert math.dist(middle, view.to(screw)) >= 8.0 + 2.0 * view.scale
    assert f"M{view.xy(screw)}L" in picture
