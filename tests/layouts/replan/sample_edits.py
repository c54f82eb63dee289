"""Demos laid out, and edits made as the page makes them: a gesture, changes to the file, the file read again."""

from __future__ import annotations

import random
from functools import cache

from geom.outline import Point
from layouts.file.edit import edit_text
from layouts.file.gestures import gesture_changes
from layouts.file.read import parse_panel, read_panel
from layouts.laid_out import LaidOut
from layouts.panel import Panel
from layouts.panels.catalogue import demo_path
from layouts.plan import Channel, PlacedPort
from layouts.replan.allowed_places import find_allowed
from layouts.route import lay_out
from layouts.routing.effort import QUICK

MAIN, TWO_FACES, MANY_ENDS, APART = "workshop-render", "observatory-camera", "cell-tester", "cupboard-server"


@cache
def lay_demo(name: str) -> tuple[Panel, LaidOut]:
    """Return a demo and its layout."""
    panel = read_panel(demo_path(name))
    return panel, lay_out(panel, 0, QUICK)


def edit_demo(name: str, *gestures: dict[str, object]) -> Panel:
    """Return a demo's file after gestures, one by one, read again."""
    text, panel = demo_path(name).read_text(encoding="utf-8"), lay_demo(name)[0]
    for gesture in gestures:
        text = edit_text(text, gesture_changes(panel, lay_demo(name)[1].routed, gesture))
        panel = parse_panel(text.encode(), panel.path)
    return panel


def move(thing: str, to: Point) -> dict[str, object]:
    """Return the gesture that moves a thing."""
    return {"move": thing, "to": list(to)}


@cache
def list_allowed(name: str, thing: str) -> tuple[Point, ...]:
    """Return where a thing of a demo may stand."""
    panel, laid = lay_demo(name)
    return find_allowed(panel, laid, thing).nodes


def loop_ports(name: str) -> tuple[PlacedPort, ...]:
    """Return a demo's ports that end a channel."""
    return tuple(port for port in lay_demo(name)[1].routed.ports if port.channel not in ("tank", "feed"))


def draw_moves(name: str, count: int, reach: float, seed: int = 0) -> list[tuple[PlacedPort, Point]]:
    """Return moves of ports to allowed nodes up to `reach` mm away in x and y."""
    rng = random.Random(seed)
    moves: list[tuple[PlacedPort, Point]] = []
    while len(moves) < count:
        port = rng.choice(loop_ports(name))
        x, y, _ = port.at
        near = [
            node
            for node in list_allowed(name, f"port:{port.name}")
            if 0 < max(abs(node[0] - x), abs(node[1] - y)) <= reach
        ]
        if near:
            moves.append((port, rng.choice(near)))
    return moves


def channel_named(laid: LaidOut, name: str) -> Channel:
    """Return a channel of a layout."""
    return laid.routed.channel(name)
