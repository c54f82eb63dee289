"""Channels of loops with nested groups."""

from dataclasses import replace

import pytest

from layouts.nets import channels_needed, list_groups, list_parts
from layouts.panel import Panel, Step
from tests.layouts.sample_routed import sample_panel


def make_panel(*loop: Step) -> Panel:
    """Return the sample with parts a, b, c and d in this order between pump and tank."""
    sample = sample_panel()
    part = sample.parts[0]
    parts = tuple(
        replace(
            part,
            name=name,
            inlet=replace(part.inlet, name=f"{name} in"),
            outlet=replace(part.outlet, name=f"{name} out"),
        )
        for name in "abcd"
    )
    return replace(sample, parts=parts, loop=("tank", "pump", *loop, "tank"), drain=None)


def list_channels(panel: Panel) -> list[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    """Return name, sources and sinks of each channel but the feed."""
    return [
        (
            need.name,
            tuple(end.name for end in need.ends[: need.sources]),
            tuple(end.name for end in need.ends[need.sources :]),
        )
        for need in channels_needed(panel)[1:]
    ]


def test_chain_of_parts():
    assert list_channels(make_panel("a", "b")) == [
        ("pump - a", ("pump outlet",), ("a in",)),
        ("a - b", ("a out",), ("b in",)),
        ("b - tank", ("b out",), ("tank return",)),
    ]


def test_chain_in_a_group():
    assert list_channels(make_panel((("a", "b"), "c"), "d")) == [
        ("pump - a + c", ("pump outlet",), ("a in", "c in")),
        ("a - b", ("a out",), ("b in",)),
        ("b + c - d", ("b out", "c out"), ("d in",)),
        ("d - tank", ("d out",), ("tank return",)),
    ]


def test_group_in_a_chain_of_a_group():
    assert list_channels(make_panel(((("a", "b"), "c"), "d"))) == [
        ("pump - a + b + d", ("pump outlet",), ("a in", "b in", "d in")),
        ("a + b - c", ("a out", "b out"), ("c in",)),
        ("c + d - tank", ("c out", "d out"), ("tank return",)),
    ]


@pytest.mark.parametrize(
    "loop",
    [("a", "b", "c", "d"), (("a", "b", "c", "d"),), ((("a", ("b", "c")), "d"),), (("a", "b"), ("c", "d"))],
)
def test_every_port_ends_one_channel(loop):
    panel = make_panel(*loop)
    ends = [end for _, sources, sinks in list_channels(panel) for end in (*sources, *sinks)]
    ports = [f"{name} {way}" for name in "abcd" for way in ("in", "out")]
    assert sorted(ends) == sorted([*ports, "pump outlet", "tank return"])
    names = [name for name, _, _ in list_channels(panel)]
    assert len(set(names)) == len(names)
    assert list_parts(panel.loop[2:-1]) == tuple("abcd")


def test_groups_outermost_first():
    inner = ("b", "c")
    outer = (("a", inner), "d")
    assert list_groups(("tank", "pump", outer, "tank")) == (outer, inner)
