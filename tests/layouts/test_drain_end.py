"""Where a drain stops short of the pump's inlet: its round end touches neither the bore there nor the feed's end.

A drain of 16 mm on a bore of 8 mm stopped so that its tip was as far past the inlet as the bore's wall: the kernel
called the solid valid, and its mesh was torn along the bore's rim.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from geom.build import build_solids
from geom.features import Cylinder, Detail, Feature
from geom.tessellate import mesh_solid
from layouts import panels
from layouts.clearance import BACK_FROM_INLET, BACK_FROM_TEE, OFF_TIP, back_from_inlet
from layouts.file.read import read_panel
from layouts.panel import Panel
from layouts.route import route_panel
from layouts.widen import set_widths
from tests.layouts.sample_routed import sample_panel, sample_routed
from tests.sample_detail import channel, make_plate

WIDTHS = range(6, 21)
INLET = (60.0, 60.0)


def with_inlet(panel: Panel, bore: float) -> Panel:
    return replace(panel, pump=replace(panel.pump, inlet_bore=bore))


def meet_at_inlet(
    width: float, bore: float, feed: float, back: float, sideways: bool, floor: float
) -> Detail:
    """Return a feed from above, a drain that stops `back` widths short of its end, and the pump's bore from the front.

    `floor` is the z at which the channels begin: 0 where they are open towards a cover.
    """
    x, y = INLET
    body = 24.0 + 2 * floor
    ends = ((x - back * width, y), (5.0, y)) if sideways else ((x, y - back * width), (x, 5.0))
    return make_plate(
        channel("feed", ((x, 115.0), INLET), floor, floor + 10, feed, feed),
        channel("drain", ends, floor, floor + 10, width, width),
        Feature(
            "bore",
            "pump bore",
            "wet",
            Cylinder((x, y, body), (0, 0, -1), body - floor - 5, bore / 2),
            ("feed",),
        ),
        size=(120.0, 120.0, body),
    )


def is_torn(detail: Detail) -> bool:
    """Return whether an edge of the part's or the coolant's mesh has not its two triangles."""
    solids = build_solids(detail)
    for shape in (solids.part("panel"), solids.wet):
        _, triangles = np.unique(mesh_solid(shape).edges_sorted, axis=0, return_counts=True)
        if np.any(triangles != 2):
            return True
    return False


@pytest.mark.published(
    source="common practice, no source: circles touch where their radii differ by what their centres do"
)
@pytest.mark.parametrize("width", WIDTHS)
def test_tip_is_off_every_bore_and_off_the_feeds_end(width: int) -> None:
    """For all bores by tenths of a millimetre, and feeds as wide as the drain, half of it and wider."""
    panel = sample_panel("one-piece")
    for tenths, feed in product(range(10, 260), (width / 2, width * 0.75, float(width), width * 1.5)):
        back = back_from_inlet(with_inlet(panel, tenths / 10), width, feed)
        past = width / 2 - back * width
        assert back in BACK_FROM_INLET
        assert abs(past - tenths / 20) >= OFF_TIP * width
        assert abs(past - feed / 2) >= OFF_TIP * width
        # It still ends inside the feed, and no further back than a branch at a T.
        assert 0 < back <= BACK_FROM_TEE


def test_a_quarter_unless_something_is_in_the_way() -> None:
    panel = sample_panel("one-piece")
    assert back_from_inlet(with_inlet(panel, 8.2), 12.0, 12.0) == 0.25
    assert back_from_inlet(with_inlet(panel, 8.0), 16.0, 16.0) == 0.1875
    # A feed of 10 mm stands in the way of the second.
    assert back_from_inlet(with_inlet(panel, 8.0), 16.0, 10.0) == 0.125


@pytest.mark.parametrize("width", WIDTHS)
def test_meshes_at_the_inlet_are_closed(width: int) -> None:
    """With the bore at half of the width, and where each place that is tried has a bore that it would touch."""
    panel = sample_panel("one-piece")
    tips = [2 * width * (0.5 - back) for back in BACK_FROM_INLET]
    # Channels open towards a cover, and inside a panel in one piece.
    cases = [(tips[0], False, 0.0), (tips[0], False, 10.0), (tips[0], True, 10.0 * (width % 2))]
    cases += [(tips[1 + width % 2], width % 2 == 0, 10.0 * (width % 3 == 0)), (float(width), True, 0.0)]
    for bore, sideways, floor in cases:
        feed = max(width, bore)
        back = back_from_inlet(with_inlet(panel, bore), width, feed)
        where = f"width {width}, bore {bore}, sideways {sideways}, floor {floor}"
        assert not is_torn(meet_at_inlet(width, bore, feed, back, sideways, floor)), where


def test_a_quarter_on_a_bore_of_half_the_width_would_be_torn() -> None:
    """What is kept off is a real fault: should the kernel learn it, the rule may go."""
    assert is_torn(meet_at_inlet(18.0, 9.0, 18.0, BACK_FROM_TEE, False, 0.0))


def test_drain_goes_on_keeping_off_the_bore_as_it_widens() -> None:
    panel, routed = with_inlet(sample_panel("bonded"), 6.0), sample_routed("bonded")
    widths = {each.name: each.width for each in routed.channels}
    y = routed.pump.inlet[1]
    wide = set_widths(panel, routed, widths | {"drain": 12.0, "feed": 12.0})
    assert wide.channel("drain").runs[0].points[0][1] == pytest.approx(y - 0.1875 * 12.0)
    wider = set_widths(panel, wide, widths | {"drain": 14.0, "feed": 14.0})
    assert wider.channel("drain").runs[0].points[0][1] == pytest.approx(y - 0.25 * 14.0)


def test_routed_drain_keeps_off_the_bore() -> None:
    """A demo with channels of 12 mm on an inlet bore of 6 mm."""
    panel = read_panel(Path(panels.__file__).parent / "cupboard-server.toml")
    panel = with_inlet(replace(panel, channel=replace(panel.channel, width=12.0, bend_radius=14.0)), 6.0)
    routed = route_panel(panel)
    drain = routed.channel("drain")
    assert math.dist(drain.runs[0].points[0], routed.pump.inlet) == pytest.approx(0.1875 * 12.0)
