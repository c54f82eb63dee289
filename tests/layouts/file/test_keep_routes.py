"""The key [[keep_route]]: read as it stands, and every mistake in it told with its line."""

from __future__ import annotations

import pytest

from geom.errors import PanelFileError
from layouts.file.model import MOST_CORNERS
from layouts.file.read import parse_panel
from layouts.panel import KeepRoute
from layouts.panels.catalogue import demo_path

DEMO = demo_path("laser-driver").read_text(encoding="utf-8")
FIRST = DEMO.count("\n") + 2
"""Line of the first [[keep_route]]; its channel stands on the next."""

RUN = '[["60 mm", "40 mm"], ["60 mm", "80 mm"], ["90 mm", "80 mm"]]'
ONE = f'\n[[keep_route]]\nchannel = "diode block - radiator"\nback = [{RUN}]\n'
NAMES = "'pump - diode block', 'diode block - radiator', 'radiator - tank', 'drain'"


def problems_of(entry: str) -> tuple[str, ...]:
    """Return what is told of the demo with this behind it."""
    with pytest.raises(PanelFileError) as told:
        parse_panel((DEMO + entry).encode(), "kept.toml")
    return told.value.problems


def test_a_kept_route_is_read_with_its_line():
    panel = parse_panel((DEMO + ONE).encode(), "kept.toml")
    run = ((60.0, 40.0), (60.0, 80.0), (90.0, 80.0))
    assert panel.keep_routes == (KeepRoute("diode block - radiator", (run,), (), FIRST),)
    assert parse_panel(DEMO.encode(), "kept.toml").keep_routes == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "told"),
    [
        (
            "diode block - radiator",
            "diode blok - radiator",
            1,
            "keep_route.1.channel: 'diode blok - radiator' is no channel of this panel; is 'diode block - radiator' "
            f"meant?; its channels are {NAMES}",
        ),
        (
            "diode block - radiator",
            "feed",
            1,
            "keep_route.1.channel: 'feed' is one straight column from the tank down to the pump and keeps no route; "
            "fix tank.at and pump.at instead",
        ),
        (
            f"back = [{RUN}]",
            "",
            0,
            'keep_route.1: no run; write e.g. back = [[["305 mm", "60 mm"], ["240 mm", "60 mm"]]]',
        ),
        (
            "back =",
            "front =",
            2,
            "keep_route.1.front: read front; channel.layers = 1 has channels in the back face only: remove the key, "
            "or use layers = 2",
        ),
        (
            '["60 mm", "80 mm"]',
            '["62 mm", "80 mm"], ["62 mm", "80 mm"]',
            2,
            "keep_route.1.back.1.2: x = 62 mm is off the grid of 5 mm; the nearest are 60 mm and 65 mm",
        ),
        (
            '["60 mm", "80 mm"], ',
            "",
            2,
            "keep_route.1.back.1.2: (90, 80) mm lies askew of the corner before it, (60, 40) mm; runs go along x or "
            "y: give both the same x or the same y",
        ),
        (
            '["60 mm", "80 mm"], ',
            '["60 mm", "80 mm"], ["60 mm", "80 mm"], ',
            2,
            "keep_route.1.back.1.3: (60, 80) mm stands twice in a row; keep one of them",
        ),
        (
            '["90 mm", "80 mm"]',
            '["60 mm", "60 mm"]',
            2,
            "keep_route.1.back.1.3: (60, 60) mm leads straight back from (60, 80) mm; turn aside there, or end the run",
        ),
        (
            '["90 mm", "80 mm"]',
            '["60 mm", "800 mm"]',
            2,
            "keep_route.1.back.1.3: (60, 800) mm is outside the panel of",
        ),
        (RUN, '[["60 mm", "40 mm"]]', 2, "keep_route.1.back.1: read 1 entries; expected at least 2"),
        (RUN, '["60 mm", "40 mm"]', 2, "keep_route.1.back.1.1: read '60 mm'; expected a list"),
        ('"40 mm"', "40", 2, "keep_route.1.back.1.1.2: 40 has no unit; write e.g."),
        (
            "back =",
            "rear =",
            2,
            "keep_route.1.rear: unknown key 'rear'; [[keep_route]] takes channel, back, front",
        ),
        (
            'channel = "diode block - radiator"\n',
            "",
            0,
            "keep_route.1.channel: missing; [[keep_route]] needs e.g.",
        ),
    ],
)
def test_a_mistake_is_told_with_its_line(old, new, line, told):
    assert ONE.count(old) == 1
    problems = problems_of(ONE.replace(old, new))
    assert any(problem.startswith(f"kept.toml:{FIRST + line}: {told}") for problem in problems), problems


def test_a_channel_is_kept_once():
    problems = problems_of(ONE + ONE)
    assert problems == (
        f"kept.toml:{FIRST + 5}: keep_route.2.channel: 'diode block - radiator' is kept twice, first in entry 1; "
        "keep one of them",
    )


def test_a_run_of_very_many_corners_is_refused():
    corners = ", ".join('["60 mm", "40 mm"]' for _ in range(MOST_CORNERS + 1))
    (problem,) = problems_of(ONE.replace(RUN, f"[{corners}]"))
    assert f"read {MOST_CORNERS + 1} entries; expected at most {MOST_CORNERS}" in problem


def test_a_loop_that_stands_wrong_is_told_alone():
    text = DEMO.replace('order = ["tank", "pump"', 'order = ["tank", "pomp"')
    assert text != DEMO
    with pytest.raises(PanelFileError) as told:
        parse_panel((text + ONE).encode(), "kept.toml")
    assert not any("keep_route" in problem for problem in told.value.problems)
