"""What terminal and report say of the cover screws."""

from __future__ import annotations

import math
from dataclasses import replace

from sample_plan import sample_plan

from exports.report.closing import screws_section
from exports.wording.screw_words import describe_screws
from layouts.plan import Coverage, OpenStretch, Plan


def covered(coverage: Coverage, count: int = 4) -> Plan:
    """Return the plan made by hand with so many back screws, as well held as told."""
    plan = sample_plan()
    screws = tuple((10.0 * k, 5.0) for k in range(count))
    return replace(plan, sealed=replace(plan.sealed, screws=screws, coverage=(coverage,)))


def test_terminal_tells_count_bound_and_reach():
    least = covered(Coverage("back", 40.0, "diameters", 19.437, 4))
    assert " ".join(describe_screws(least)) == (
        "4 cover screws, as few as can be among the places tried (proven): the cord's farthest place is 19.4 mm from a "
        "screw, 20 mm are allowed by 10 screw diameters between two screws"
    )
    more = " ".join(describe_screws(covered(Coverage("back", 40.0, "stiffness", 19.4, 3))))
    assert "4 cover screws, at least 3 are needed among the places tried (proven)" in more
    assert "allowed by the stiffness of cover and body" in more
    closer = " ".join(describe_screws(covered(Coverage("back", 40.0, "stiffness", 19.4, 4, crowded=24.0))))
    assert closer.endswith(", 12 mm where a screw would be loaded too much")
    none = covered(Coverage("back", 40.0, "stiffness", math.inf, 0), count=0)
    assert describe_screws(none) == ["no cover screw has room"]
    assert describe_screws(replace(none, sealed=replace(none.sealed, coverage=()))) == []


def test_report_tells_stretches_with_what_keeps_screws_away():
    stretch = OpenStretch("groove 1", (50.0, 10.0), 20.123, ("port block inlet G1/4", "tank"))
    (section,) = screws_section(covered(Coverage("back", 40.0, "stiffness", 31.0, 4, (stretch,))))
    assert section == {
        "layer": "back",
        "count": 4,
        "least": 4,
        "spacing_mm": 40.0,
        "limit": "stiffness",
        "reach_mm": 31.0,
        "crowded_mm": None,
        "open": [
            {
                "cord": "groove 1",
                "at_mm": [50.0, 10.0],
                "length_mm": 20.12,
                "blockers": ["port block inlet G1/4", "tank"],
            }
        ],
    }
    (bare,) = screws_section(covered(Coverage("back", 40.0, "stiffness", math.inf, 0), count=0))
    assert bare["reach_mm"] is None
    assert bare["count"] == 0
