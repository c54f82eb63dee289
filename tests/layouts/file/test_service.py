"""The [service] table and the way of a hose, as the file asks for them."""

from __future__ import annotations

import pytest

from geom.errors import PanelFileError
from layouts.file.read import parse_panel
from layouts.panel import Panel, Service
from layouts.panels.catalogue import demo_path


def with_service(table: str, name: str = "laser-driver") -> Panel:
    text = demo_path(name).read_text(encoding="utf-8")
    return parse_panel(f"[service]\n{table}\n{text}".encode(), "own.toml")


def test_without_the_table_there_are_none():
    text = demo_path("laser-driver").read_text(encoding="utf-8")
    assert parse_panel(text.encode(), "own.toml").service == Service("none", "none", "G1/8")


def test_what_the_file_asks_for_is_read():
    panel = with_service('bleed = "auto"\ndrain = ["tank", "pump - diode block"]\nthread = "G1/4"')
    assert panel.service == Service("auto", ("tank", "pump - diode block"), "G1/4")


@pytest.mark.parametrize(
    ("table", "line", "words"),
    [
        ('bleed = ["pump - diode blok"]', 2, "is no channel of this panel; is 'pump - diode block' meant?"),
        ('bleed = ["tank"]', 2, "'tank' is no channel of this panel"),
        (
            'bleed = ["feed"]',
            2,
            "'feed' gets no plug: the pump would draw air through it; a bleed port may go into",
        ),
        ('drain = ["tank", "feed"]', 2, "service.drain.2: 'feed' gets no plug"),
        ('drain = ["drain", "drain"]', 2, "'drain' stands twice"),
        ('thread = "G9"', 2, "G9"),
        ('bleed = "always"', 2, "auto"),
        ("drain = 3", 2, "auto"),
        ('vents = "auto"', 2, "vents"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(table, line, words):
    with pytest.raises(PanelFileError) as told:
        with_service(table)
    assert f"own.toml:{line}: service" in str(told.value)
    assert words in str(told.value)


EXPECTED = 'expected "auto", "none" or a list of channel names'


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ('drain = "automatic"', f"service.drain: read 'automatic'; {EXPECTED}"),
        ("drain = true", f"service.drain: read true; {EXPECTED}"),
        ("bleed = 5", f"service.bleed: read 5; {EXPECTED}"),
        ("drain = {}", f"service.drain: read a table; {EXPECTED}"),
        ("bleed = [3]", "service.bleed.1: read 3; expected a channel's name in quotes"),
        (
            'drain = "pump - diode block"',
            f"service.drain: read 'pump - diode block'; {EXPECTED}; is [\"pump - diode block\"] meant?",
        ),
        ('drain = "tank"', f"service.drain: read 'tank'; {EXPECTED}; is [\"tank\"] meant?"),
    ],
)
def test_a_slip_of_the_keyboard_is_told_once_in_words_of_the_file(table, told):
    with pytest.raises(PanelFileError) as error:
        with_service(table)
    assert str(error.value).splitlines() == [f"own.toml:2: {told}"]


def test_a_channel_may_have_a_longer_name_than_a_part():
    text = demo_path("laser-driver").read_text(encoding="utf-8")
    long = "diode block that stands between two other blocks and a wall"
    text = text.replace('"diode block"', f'"{long}"')
    panel = parse_panel(f'[service]\ndrain = ["pump - {long}"]\n{text}'.encode(), "own.toml")
    assert panel.service.drain == (f"pump - {long}",)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("[drain]\nport = {", '[drain]\nport = { hose = "falls",', "drain.port.hose"),
        ("fill = {", 'fill = { hose = "rises",', "tank.fill.hose"),
    ],
)
def test_only_ports_of_parts_have_a_hose(old, new, key):
    text = demo_path("laser-driver").read_text(encoding="utf-8")
    assert old in text
    text = text.replace(old, new)
    line = text[: text.index(" hose = ")].count("\n") + 1
    with pytest.raises(PanelFileError) as error:
        parse_panel(text.encode(), "own.toml")
    assert str(error.value).splitlines() == [
        f"own.toml:{line}: {key}: a hose's way is asked for at parts' ports only; leave hose out"
    ]


def test_a_separate_tank_has_no_pocket_to_drain():
    with pytest.raises(PanelFileError, match="'tank' is no channel of this panel"):
        with_service('drain = ["tank"]', "cupboard-server")


def test_no_part_is_called_as_a_bleed():
    text = demo_path("laser-driver").read_text(encoding="utf-8").replace("diode block", "bleed")
    with pytest.raises(PanelFileError, match="bleed"):
        parse_panel(text.encode(), "own.toml")
