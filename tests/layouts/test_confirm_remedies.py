"""Remedies of a failure held against the whole search."""

from __future__ import annotations

import pytest

from geom.errors import LayoutError
from geom.findings import KeyChange
from layouts.confirm_remedies import confirm_remedies
from layouts.failure import LayoutFailure, Remedy
from layouts.file.read import read_panel
from layouts.panel import Panel
from layouts.panels.catalogue import demo_path
from layouts.routing.effort import NORMAL, QUICK, Effort

WIDE = Remedy("narrower", True, (KeyChange(("channel", "width"), "5 mm"),))
BENT = Remedy("tighter", True, (KeyChange(("channel", "bend_radius"), "9 mm"),))
ILL = Remedy("unread", True, (KeyChange(("channel", "width"), "-5 mm"),))
WORDS = Remedy("smaller", True)


def confirm(*remedies: Remedy, effort: Effort = NORMAL) -> tuple[list[tuple[str, bool]], list[Panel]]:
    panel, asked = read_panel(demo_path("laser-driver")), []
    failure = LayoutFailure(panel, None, "not found", False, "x.", remedies, (), (), (), None, (0.0, 0.0))

    def finds(changed: Panel) -> bool:
        asked.append(changed)
        return changed.channel.bend_radius == 9.0

    told = confirm_remedies(panel, LayoutError(failure), finds, effort).failure
    assert isinstance(told, LayoutFailure)
    return [(remedy.text, remedy.works) for remedy in told.remedies], asked


def test_only_what_gives_a_layout_works() -> None:
    told, asked = confirm(WIDE, BENT, ILL, WORDS)
    assert told == [("tighter", True), ("smaller", True), ("narrower", False), ("unread", False)]
    assert [panel.channel.width for panel in asked] == [
        5.0,
        read_panel(demo_path("laser-driver")).channel.width,
    ]


@pytest.mark.parametrize(("trials", "tried"), [(0, 0), (1, 1), (99, 4)])
def test_no_more_are_tried_than_the_effort_allows(trials: int, tried: int) -> None:
    import dataclasses

    told, asked = confirm(*[BENT] * 6, effort=dataclasses.replace(QUICK, trials=trials))
    assert len(asked) == tried
    assert sum(works for _, works in told) == tried
