"""What a hand does on the page becomes changes that the file takes; whatever else is sent is refused in words."""

from __future__ import annotations

import tomllib
from contextlib import suppress
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import EditRefused, PanelFileError
from geom.findings import KeyChange
from layouts.file.changes import value_at
from layouts.file.edit import edit_text
from layouts.file.gesture_words import tell_gestures, tell_let
from layouts.file.gestures import gather_changes, gesture_changes
from layouts.file.read import parse_panel
from layouts.panel import KeepRoute, Panel
from layouts.panels.catalogue import demo_path
from layouts.plan import Routed
from tests.sample_demos import route_demo

NAME = "workshop-render"
DEMO = demo_path(NAME).read_text("utf-8")
PANEL = parse_panel(DEMO.encode(), "panel.toml")
OUTLET = ("part", 0, "outlet")
PUMP_CHANNEL = "pump - processor block"
KEPT = tuple(
    KeepRoute(name, (((0.0, 0.0), (5.0, 0.0)),), (), 1)
    for name in (PUMP_CHANNEL, "drain", "radiator lower - tank")
)


@pytest.fixture(scope="module")
def routed() -> Routed:
    return route_demo(NAME)


def after(gesture: dict[str, Any], routed: Routed | None = None) -> dict[str, Any]:
    """Return what the demo holds after a gesture; it can still be read."""
    text = edit_text(DEMO, gather_changes(PANEL, routed, [gesture]))
    parse_panel(text.encode(), "panel.toml")
    return tomllib.loads(text)


# Gesture, the table that it changes, what this then holds of the keys that say where and how large.
CASES: dict[str, tuple[dict[str, Any], tuple[str | int, ...], dict[str, Any]]] = {
    "port": ({"move": "port:processor block outlet", "to": [241.4, 42.6]}, OUTLET, {"at": ["240 mm", "45 mm"]}),
    "port off the panel": (
        {"move": "port:graphics left inlet", "to": [-80, 9000]}, ("part", 1, "inlet"), {"at": ["0 mm", "220 mm"]},
    ),
    "edge port": ({"move": "port:radiator upper inlet", "to": [3, 83]}, ("part", 3, "inlet"), {"at": "85 mm"}),
    "edge port, from above": ({"move": "port:drain", "to": [301, 90]}, ("drain", "port"), {"at": "300 mm"}),
    "pump": ({"move": "pump", "to": [332, 61]}, ("pump",), {"at": ["330 mm", "60 mm"]}),
    "tank": ({"move": "tank", "to": [291, 147]}, ("tank",), {"at": ["290 mm", "145 mm"]}),
    "tank, kept inside": ({"move": "tank", "to": [391, 199]}, ("tank",), {"at": ["310 mm", "165 mm"]}),
    "clear": (
        {"move": "clear:0", "to": [99, 21]}, ("keep_clear", 0), {"box": ["100 mm", "20 mm", "120 mm", "35 mm"]},
    ),
    "turn": ({"turn": "pump", "to": -90}, ("pump",), {"turns": ["270 deg"]}),
    "box of a port": (
        {"box": "port:processor block outlet", "to": [260, 60, 220, 30.1234]},
        OUTLET, {"within": ["220 mm", "30.123 mm", "260 mm", "60 mm"]},
    ),
    "span of an edge port": (
        {"box": "port:drain", "to": [262.5, 0, 330, 0]}, ("drain", "port"), {"between": ["262.5 mm", "330 mm"]},
    ),
    "box of the pump": (
        {"box": "pump", "to": [280, 12, 400, 120]}, ("pump",), {"within": ["280 mm", "12 mm", "400 mm", "120 mm"]},
    ),
    "box of the tank": (
        {"box": "tank", "to": [270, 140, 900, 206]}, ("tank",), {"within": ["270 mm", "140 mm", "400 mm", "206 mm"]},
    ),
    "box of a region": (
        {"box": "clear:0", "to": [0, 0, 9, 8]}, ("keep_clear", 0), {"box": ["0 mm", "0 mm", "9 mm", "8 mm"]},
    ),
    "size": ({"size": "tank", "to": [82.5, 50]}, ("tank",), {"size": ["82.5 mm", "50 mm"]}),
    "size over the box": (
        {"size": "tank", "to": [120, 52]}, ("tank",), {"within": ["280 mm", "145 mm", "400 mm", "206 mm"]},
    ),
    "free a port": (
        {"free": "port:processor block inlet"}, ("part", 0, "inlet"),
        {"within": ["210 mm", "60 mm", "270 mm", "120 mm"]},
    ),
    "width": ({"width": f"channel:{PUMP_CHANNEL}", "to": 9.5}, ("channel",), {"own": {PUMP_CHANNEL: "9.5 mm"}}),
    "add": (
        {"add": "clear", "name": "cable slot", "box": [10, 200, 30, 215]}, ("keep_clear", 1),
        {"name": "cable slot 2", "box": ["10 mm", "200 mm", "30 mm", "215 mm"]},
    ),
    "changes": (
        {"changes": [{"path": ["channel", "width"], "value": "7 mm"}, {"path": ["pump", "noise"], "value": None}]},
        ("channel",), {"width": "7 mm"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_a_gesture_changes_the_keys_it_means(name: str) -> None:
    gesture, path, wanted = CASES[name]
    table = value_at(after(gesture), path)
    assert {key: table[key] for key in wanted} == wanted
    assert len({"at", "within", "between"} & set(table)) <= 1


def test_a_region_is_removed() -> None:
    assert "keep_clear" not in after({"remove": "clear:0"})


def test_a_pinned_thing_stays_where_it_stands(routed: Routed) -> None:
    (x, y), box = routed.pump.inlet, routed.tank.box
    assert after({"pin": "pump"}, routed)["pump"]["at"] == [f"{x:g} mm", f"{y:g} mm"]
    assert box is not None
    assert after({"pin": "tank"}, routed)["tank"]["at"] == [f"{box[0]:g} mm", f"{box[1]:g} mm"]
    port = next(port for port in routed.ports if port.name == "processor block outlet")
    found = after({"pin": "port:processor block outlet"}, routed)
    assert value_at(found, (*OUTLET, "at")) == [f"{port.at[0]:g} mm", f"{port.at[1]:g} mm"]
    with pytest.raises(EditRefused, match="no layout"):
        gesture_changes(PANEL, None, {"pin": "pump"})


def test_what_is_pinned_comes_free_again(routed: Routed) -> None:
    text = edit_text(
        DEMO, gather_changes(PANEL, routed, [{"pin": thing} for thing in ("pump", "tank", "port:drain")])
    )
    panel = parse_panel(text.encode(), "panel.toml")
    x, y = routed.pump.inlet
    for thing in ("pump", "tank", "port:drain"):
        text = edit_text(text, gather_changes(panel, routed, [{"free": thing}]))
    freed = parse_panel(text.encode(), "panel.toml")
    assert freed.pump.within == (x - 63, max(y - 63, 0), min(x + 63, 400), y + 63)
    assert freed.pump.at is freed.tank.at is None
    assert freed.drain is not None
    assert freed.drain.between is not None
    # Free as it is, there is nothing to change.
    assert gather_changes(freed, routed, [{"free": "pump"}]) == ()


def kept_of(panel: Panel, gesture: dict[str, Any], routed: Routed | None = None) -> list[int]:
    changes = gesture_changes(panel, routed, gesture)
    return [int(one.path[1]) for one in changes if one.path[0] == "keep_route"]


def test_a_move_lets_go_of_the_routes_that_end_there(routed: Routed) -> None:
    panel = replace(PANEL, keep_routes=KEPT)
    assert kept_of(panel, {"move": "port:processor block inlet", "to": [200, 90]}) == [0]
    assert kept_of(panel, {"move": "port:graphics left inlet", "to": [50, 50]}) == []
    assert kept_of(panel, {"move": "pump", "to": [330, 60]}) == [1, 0]
    assert kept_of(panel, {"turn": "pump", "to": 0}) == [0]
    assert kept_of(panel, {"move": "tank", "to": [290, 150]}) == [2]
    at = next(port.at for port in routed.ports if port.name == "drain")
    assert kept_of(panel, {"box": "port:drain", "to": [at[0] - 20, 0, at[0] + 20, 0]}, routed) == []
    assert kept_of(panel, {"box": "port:drain", "to": [at[0] + 5, 0, at[0] + 20, 0]}, routed) == [1]
    assert kept_of(panel, {"let": "channel:drain"}) == [1]


def test_a_kept_route_that_goes_unasked_is_told() -> None:
    panel = replace(PANEL, keep_routes=KEPT)

    def told(*gestures: dict[str, Any]) -> str:
        return tell_let(panel, gestures, gather_changes(panel, None, gestures))

    one = f'; the kept route of channel "{KEPT[0].channel}" goes'
    assert told({"move": "port:processor block inlet", "to": [200, 90]}) == one
    assert told({"move": "port:graphics left inlet", "to": [50, 50]}) == ""
    assert told({"move": "pump", "to": [330, 60]}).count("the kept route of") == 2
    assert told({"let": "channel:drain"}) == ""
    assert told({"changes": [{"path": ["keep_route", 0], "value": None}]}) == ""


def test_widths_go_with_their_table() -> None:
    panel = replace(PANEL, channel=replace(PANEL.channel, own=((PUMP_CHANNEL, 9.0), ("drain", 7.0))))
    one, other = {"width": f"channel:{PUMP_CHANNEL}", "to": None}, {"width": "channel:drain", "to": None}
    assert gesture_changes(panel, None, one) == (KeyChange(("channel", "own", PUMP_CHANNEL), None),)
    assert gather_changes(panel, None, [one, other]) == (KeyChange(("channel", "own"), None),)
    assert len(gather_changes(panel, None, [one, {**other, "to": 8}])) == 2


def test_gestures_of_one_step_do_not_move_each_others_entries() -> None:
    text = DEMO + '\n[[keep_clear]]\nname = "b"\nbox = ["0 mm", "0 mm", "9 mm", "9 mm"]\n'
    panel = parse_panel(text.encode(), "panel.toml")
    step: list[dict[str, Any]] = [
        {"remove": "clear:0"},
        {"add": "clear", "name": "c", "box": [1, 1, 5, 5]},
        {"remove": "clear:1"},
        {"add": "clear", "name": "d", "box": [1, 1, 5, 5]},
        {"move": "clear:1", "to": [50, 50]},
    ]
    data = tomllib.loads(edit_text(text, gather_changes(panel, None, step)))
    assert [region["name"] for region in data["keep_clear"]] == ["c", "d"]


REFUSED: dict[str, tuple[Any, str]] = {
    "nothing": ({}, "no such edit"),
    "no mapping": (["move"], "no such edit"),
    "unknown key": ({"move": "pump", "to": [1, 2], "by": 3}, 'takes "move" and "to"'),
    "missing key": ({"move": "pump"}, 'takes "move" and "to"'),
    "two at once": ({"move": "pump", "to": [1, 2], "turn": "pump"}, 'takes "move" and "to"'),
    "no thing": ({"move": 3, "to": [1, 2]}, "no thing of a plan"),
    "odd thing": ({"move": "door:1", "to": [1, 2]}, "no thing of a plan"),
    "no such port": ({"move": "port:x", "to": [1, 2]}, "no place to a port"),
    "no such region": ({"move": "clear:7", "to": [1, 2]}, "1 keep-clear region"),
    "region that is no number": ({"move": "clear:²", "to": [1, 2]}, "1 keep-clear region"),
    "channel": ({"move": "channel:drain", "to": [1, 2]}, "cannot be moved by hand"),
    "nan": ({"move": "pump", "to": [1, float("nan")]}, "takes numbers"),
    "huge": ({"move": "pump", "to": [1, 10**400]}, "takes numbers"),
    "text": ({"move": "pump", "to": "ab"}, "takes 2 numbers"),
    "true": ({"move": "pump", "to": [True, 1]}, "takes numbers"),
    "three": ({"move": "pump", "to": [1, 2, 3]}, "takes 2 numbers"),
    "odd turn": ({"turn": "pump", "to": 45}, "multiples of 90"),
    "turn of the tank": ({"turn": "tank", "to": 90}, "only the pump"),
    "no area": ({"box": "pump", "to": [500, 500, 900, 900]}, "no area"),
    "too small for the seat": ({"box": "pump", "to": [0, 0, 50, 90]}, "seat of 66 mm"),
    "too small for the tank": (
        {"box": "tank", "to": [0, 0, 50, 90]},
        "cannot hold the tank of 90 mm x 52 mm",
    ),
    "no size": ({"size": "tank", "to": [0, 5]}, "above 0 mm"),
    "size of the pump": ({"size": "pump", "to": [5, 5]}, "only the tank"),
    "no width": ({"width": "channel:drain", "to": 0}, "above 0 mm"),
    "no such channel": ({"width": "channel:x", "to": 5}, "no channel"),
    "the feed's width": ({"width": "channel:feed", "to": 5}, "inlet bore"),
    "the feed's route": ({"keep": "channel:feed"}, "straight drop"),
    "no layout": ({"keep": "channel:drain"}, "no route to keep"),
    "add a port": ({"add": "port", "name": "a", "box": [0, 0, 5, 5]}, "only keep-clear regions"),
    "no name": ({"add": "clear", "name": " ", "box": [0, 0, 5, 5]}, "needs a name"),
    "remove a port": ({"remove": "port:drain"}, "only keep-clear regions can be removed"),
    "free a region": ({"free": "clear:0"}, "not pinned by the file"),
    "no list": ({"changes": "x"}, "takes a list"),
    "odd change": ({"changes": [{"path": ["a"]}]}, '"path" and "value"'),
    "odd path": ({"changes": [{"path": [1.5], "value": 1}]}, "starts with a number"),
    "odd value": ({"changes": [{"path": ["a"], "value": [None]}]}, "nothing"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_does_not_fit_is_refused_in_words(name: str) -> None:
    gesture, told = REFUSED[name]
    with pytest.raises(EditRefused) as caught:
        gather_changes(PANEL, None, [gesture])
    assert told in str(caught.value)


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
    | st.sampled_from(("pump", "tank", "clear", "clear:0", "port:drain", "port:fill", "channel:drain", "channel:feed")),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=2),
    max_leaves=6,
)  # fmt: skip
NUMBERS = st.floats(-50, 500)
KEYS = st.sampled_from(("move", "to", "turn", "box", "size", "free", "pin", "width", "keep", "let", "add", "name",
    "remove", "changes"))  # fmt: skip
SHAPES = st.sampled_from((("move", 2), ("box", 4), ("size", 2), ("turn", 0), ("width", 0)))


@st.composite
def likely(draw: st.DrawFn) -> dict[str, Any]:
    kind, count = draw(SHAPES)
    thing = draw(st.sampled_from(("pump", "tank", "clear:0", "port:drain", "port:fill", "channel:drain", "port:memory "
        "block inlet")))  # fmt: skip
    return {kind: thing, "to": draw(st.lists(NUMBERS, min_size=count, max_size=count) if count else NUMBERS)}


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(KEYS, ANYTHING, max_size=3) | likely())
def test_anything_gives_changes_that_the_file_takes_or_is_refused(gesture: dict[str, Any]) -> None:
    problems: tuple[str, ...] = ()
    with suppress(EditRefused):
        changes = gather_changes(PANEL, None, [gesture])
        assert tell_gestures(PANEL, [gesture])
        try:
            parse_panel(edit_text(DEMO, changes).encode(), "panel.toml")
        except PanelFileError as error:
            problems = error.problems
    # The file's own checks tell of sense: what a hand gives is never what they cannot read.
    assert not [problem for problem in problems if "unit" in problem or "expected" in problem]


def test_gestures_are_told_in_few_words() -> None:
    moves = [{"move": f"port:{name}", "to": [1, 2]} for name in ("fill", "drain")]
    assert tell_gestures(PANEL, moves[:1]) == 'move port "fill"'
    assert tell_gestures(
        PANEL, [*moves, {"turn": "pump", "to": 0}, {"remove": "clear:0"}, {"free": "tank"}]
    ) == ('move port "fill", move port "drain", turn pump, 2 more')
    assert tell_gestures(PANEL, [{"remove": "clear:0"}]) == 'remove keep-clear region "cable slot"'
    assert tell_gestures(PANEL, [{"changes": [{"path": ["a"], "value": 1}]}]) == "change 1 key"


@pytest.mark.parametrize(
    ("size", "to", "at"),
    [((60, 40), (335, 150), (335, 150)), ((110, 50), (300, 150), (290, 150))],
)
def test_the_tank_goes_where_it_can_with_the_size_that_the_same_step_gives_it(size, to, at) -> None:
    step = [{"size": "tank", "to": list(size)}, {"move": "tank", "to": list(to)}]
    panel = parse_panel(edit_text(DEMO, gather_changes(PANEL, None, step)).encode(), "panel.toml")
    assert (panel.tank.size, panel.tank.at) == (size, at)


def test_regions_of_one_name_that_one_step_adds_are_all_there() -> None:
    boxes = ([10, 10, 20, 20], [30, 10, 40, 20])
    step = [{"add": "clear", "box": box, "name": "cable slot"} for box in boxes]
    panel = parse_panel(edit_text(DEMO, gather_changes(PANEL, None, step)).encode(), "panel.toml")
    assert [(clear.name, list(clear.box)) for clear in panel.keep_clear[-2:]] == [
        ("cable slot 2", boxes[0]),
        ("cable slot 3", boxes[1]),
    ]


def test_a_kept_route_is_read_back(routed: Routed) -> None:
    channel = "radiator upper - memory block"
    text = edit_text(DEMO, gather_changes(PANEL, routed, [{"keep": f"channel:{channel}"}]))
    panel = parse_panel(text.encode(), "panel.toml")
    assert [route.channel for route in panel.keep_routes] == [channel]
    # Kept again it is no second entry, let go it is as before.
    assert edit_text(text, gather_changes(panel, routed, [{"keep": f"channel:{channel}"}])) == text
    assert edit_text(text, gather_changes(panel, routed, [{"let": f"channel:{channel}"}])) == DEMO
