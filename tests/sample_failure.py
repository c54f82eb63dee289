"""A panel without a layout, written by hand: two channels and a gap between two walls."""

from __future__ import annotations

from dataclasses import replace

from layouts.failure import Gap, LayoutFailure, Link, Remedy
from layouts.file.read import read_panel
from layouts.ground import survey_panel
from layouts.panel import KeepClear
from layouts.panels.catalogue import demo_path
from layouts.place import Placement
from layouts.place_bounds import find_placements

NAMES = ("pump - diode block", "radiator - tank")


def sample_failure(**changes) -> LayoutFailure:
    """Return a failure written by hand: two channels and a gap between two walls."""
    panel = read_panel(demo_path("laser-driver"))
    regions = (
        KeepClear("lower wall", (72.0, 0.0, 75.0, 50.0), 1),
        KeepClear("upper wall", (72.0, 72.0, 75.0, 120.0), 1),
    )
    placement: Placement = next(iter(find_placements(survey_panel(panel))))
    failure = LayoutFailure(
        panel=replace(panel, keep_clear=regions),
        placement=placement,
        kind="narrow",
        proven=True,
        text="channels must both pass between two walls, but 2.0 mm are lacking.",
        remedies=(Remedy("move the lower wall", True), Remedy("another order", False)),
        channels=NAMES,
        links=(
            Link(NAMES[0], (placement.outlet, (60.0, 35.0))),
            Link(NAMES[1], ((50.0, 110.0), placement.top)),
        ),
        cells=((75.0, 60.0), (75.0, 65.0)),
        gap=Gap((75.0, 50.0), (75.0, 72.0), ("the lower wall", "the upper wall"), 22.0, 24.0, 2, 1),
        at=(75.0, 61.0),
        tried=5,
        impossible=3,
        places=9,
    )
    return replace(failure, **changes)
