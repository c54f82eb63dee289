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
    panel = with_service('bleed = "auto"\ndrain = ["tank", "pump - diode block", "feed"]\nthread = "G1/4"')
    assert panel.service == Service("auto", ("tank", "pump - diode block", "feed"), "G1/4")


@pytest.mark.parametrize(
    ("table", "line", "words"),
    [
        ('bleed = ["pump - diode blok"]', 2, "is no channel of this panel; is 'pump - diode block' meant?"),
        ('bleed = ["tank"]', 2, "'tank' is no channel of this panel"),
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


def test_a_separate_tank_has_no_pocket_to_drain():
    with pytest.raises(PanelFileError, match="'tank' is no channel of this panel"):
        with_service('drain = ["tank"]', "cupboard-server")


def test_no_part_is_called_as_a_bleed():
    text = demo_path("laser-driver").read_text(encoding="utf-8").replace("diode block", "bleed")
    with pytest.raises(PanelFileError, match="bleed"):
        parse_panel(text.encode(), "own.toml")
