"""Channels with a width of their own, as the file asks for them."""

from __future__ import annotations

import pytest

from geom.errors import PanelFileError
from layouts.file.read import parse_panel, read_panel
from layouts.nets import FEED, channels_needed, list_channel_names
from layouts.panels.catalogue import demo_names, demo_path


def with_own(own: str, name: str = "laser-driver"):
    """Return an example panel with the key channel.own."""
    text = demo_path(name).read_text(encoding="utf-8")
    return parse_panel(text.replace("[channel]\n", f"[channel]\nown = {own}\n").encode(), "own.toml")


def test_own_widths_are_read():
    panel = with_own('{ "pump - diode block" = "8 mm" }')
    assert panel.channel.width_of("pump - diode block") == 8.0
    assert panel.channel.width_of("drain") == 6.0
    assert panel.channel.widths == (6.0, 8.0)


@pytest.mark.parametrize("name", [*demo_names(), "new"])
def test_names_are_those_of_the_channels(name):
    panel = read_panel(demo_path(name))
    needed = tuple(need.name for need in channels_needed(panel) if need.name != FEED)
    assert list_channel_names(panel.loop, panel.drain is not None) == needed


def test_an_unknown_channel_is_told_with_its_line_and_all_names():
    with pytest.raises(PanelFileError) as told:
        with_own('{ "pump - diode blok" = "8 mm" }')
    message = str(told.value)
    assert "own.toml:2" in message
    assert "is 'pump - diode block' meant?" in message
    for name in ("'diode block - radiator'", "'radiator - tank'", "'drain'"):
        assert name in message


def test_the_feed_has_no_width_of_its_own():
    with pytest.raises(PanelFileError, match=r"'feed' is no channel.*takes its width from the pump's inlet"):
        with_own('{ feed = "8 mm" }')


def test_a_width_the_cutter_cannot_cut_is_told():
    with pytest.raises(PanelFileError, match="3 mm is narrower than the cutter"):
        with_own('{ drain = "3 mm" }')


def test_a_width_beyond_the_bend_radius_is_told():
    with pytest.raises(PanelFileError, match="40 mm is wider than the bend radius"):
        with_own('{ drain = "40 mm" }')


def test_a_width_without_a_unit_is_told():
    with pytest.raises(PanelFileError, match="unit"):
        with_own("{ drain = 8 }")


def test_wrong_order_of_the_loop_is_told_alone():
    text = demo_path("laser-driver").read_text(encoding="utf-8")
    text = text.replace("[channel]\n", '[channel]\nown = { "no such" = "8 mm" }\n').replace(
        '"tank"]', '"pump"]'
    )
    with pytest.raises(PanelFileError) as told:
        parse_panel(text.encode(), "own.toml")
    assert "no such" not in str(told.value)
