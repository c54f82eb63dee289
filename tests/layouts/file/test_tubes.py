"""Parts' ports in the case, the [case] and the [tube] table, as the file gives them."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from geom.errors import PanelFileError
from layouts.case import Case, MeetingPort, Tubing
from layouts.file.read import parse_panel
from layouts.panel import Panel

BENCH = Path(__file__).parents[1].joinpath("bench.toml").read_text("utf-8")
INLET = 'inlet = { on = "front", at = ["40 mm", "50 mm"] }'
MEETS = 'meets = { at = ["40 mm", "50 mm", "120 mm"], faces = [0, 0, -1] }'
TUBE = '[tube]\nouter = "10 mm"\nstop = "6 mm"\ninsertion = "12 mm"\n'


def read(tables: str = TUBE, meets: str = MEETS) -> Panel:
    """Return the bench panel with tables behind it and one port that is met."""
    assert INLET in BENCH
    port = f"{INLET[:-2]}, {meets} }}" if meets else INLET
    return parse_panel(f"{BENCH.replace(INLET, port)}\n{tables}".encode(), "own.toml")


def told(tables: str = TUBE, meets: str = MEETS) -> list[str]:
    with pytest.raises(PanelFileError) as error:
        read(tables, meets)
    return str(error.value).splitlines()


def test_without_the_keys_there_is_nothing_to_join():
    panel = read("", "")
    assert (panel.case, panel.tubing) == (Case(), None)
    assert all(port.meets is None for part in panel.parts for port in (part.inlet, part.outlet))


def test_what_the_file_gives_is_read():
    panel = read(
        f'{TUBE}bend_radius = "1 in"\n'
        '[case]\norigin = ["1 cm", "-20 mm", "0 mm"]\nright = [0, 0, 2]\nfront = [0, 3, 0]\n'
    )
    assert panel.tubing == Tubing(10.0, 25.4, 6.0, 12.0)
    assert panel.case == Case((10.0, -20.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
    assert panel.parts[0].inlet.meets == MeetingPort((40.0, 50.0, 120.0), (0.0, 0.0, -1.0))
    assert panel.parts[0].outlet.meets is None


def test_a_direction_becomes_a_unit_vector():
    meets = read(meets='meets = { at = ["0 mm", "0 mm", "90 mm"], faces = [3, 0, -4] }').parts[0].inlet.meets
    assert meets is not None
    assert meets.faces == pytest.approx((0.6, 0.0, -0.8))


def test_axes_a_little_off_are_made_square():
    off = math.sin(math.radians(0.09))
    case = read(f"{TUBE}[case]\nfront = [{off}, 0, 1]\n").case
    assert case.front == pytest.approx((0.0, 0.0, 1.0), abs=1e-9)
    (text,) = told(f"{TUBE}[case]\nfront = [{2 * off}, 0, 1]\n")
    assert "case.front" in text


@pytest.mark.parametrize(
    ("tables", "meets", "key", "words"),
    [
        ("", MEETS, "part.1.inlet.meets", "the tube to it needs a table [tube] with outer"),
        (
            TUBE,
            'meets = { at = ["0 mm", "0 mm", "9 mm"], faces = [0, 0, 0] }',
            "meets.faces",
            "points nowhere",
        ),
        (
            TUBE,
            'meets = { at = ["0 mm", "0 mm", "9 mm"], faces = [1.7e308, 1.7e308, 0] }',
            "faces",
            "points nowhere",
        ),
        (TUBE, 'meets = { at = ["0 mm", "0 mm"], faces = [0, 0, 1] }', "meets.at", "read 2 entries"),
        (TUBE, "meets = { at = [0, 0, 1], faces = [0, 0, 1] }", "meets.at.1", "0 has no unit"),
        (TUBE, 'meets = { at = ["0 mm", "0 mm", "9 m"], faces = [0, 0, 1] }', "meets.at.3", "too large"),
        (TUBE, 'meets = { at = ["0 mm", "0 mm", "9 mm"] }', "meets.faces", "missing"),
        (TUBE, 'meets = { at = ["0 mm", "0 mm", "9 mm"], faces = "up" }', "meets.faces", "expected a list"),
        (TUBE, 'meets = "radiator"', "part.1.inlet.meets", "expected a table"),
        (TUBE, MEETS.replace(" }", ", to = 1 }"), "meets.to", "unknown key 'to'"),
        (f"{TUBE}[case]\nright = [0, 0, 0]\n", MEETS, "case.right", "points nowhere"),
        (f"{TUBE}[case]\nfront = [1, 0, 1]\n", MEETS, "case.front", "at 45.0 degrees to right"),
        (f"{TUBE}[case]\nright = [0, 0, 1]\n", MEETS, "case.front", "at 0.0 degrees to right"),
        (f"{TUBE}[case]\nup = [0, 1, 0]\n", MEETS, "case.up", "unknown key 'up'"),
        (f"{TUBE}[case]\nfront = [0, 0, nan]\n", MEETS, "case.front.3", "finite"),
        (TUBE.replace("10 mm", "10 cm"), MEETS, "tube.outer", "write 1 to 60 mm"),
        (TUBE.replace("10 mm", "0.5 mm"), MEETS, "tube.outer", "write 1 to 60 mm"),
        (f'{TUBE}bend_radius = "9.9 mm"\n', MEETS, "tube.bend_radius", "write 10 mm or more"),
        (TUBE.replace("6 mm", "60 cm"), MEETS, "tube.stop", "write at most 100 mm"),
        (TUBE.replace("6 mm", "-6 mm"), MEETS, "tube.stop", "too small"),
        (TUBE.replace("12 mm", "120 mm"), MEETS, "tube.insertion", "write at most 100 mm"),
        (TUBE.replace("12 mm", "12"), MEETS, "tube.insertion", "insertion"),
        ('[tube]\nouter = "10 mm"\n', MEETS, "tube.stop", "missing"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(tables: str, meets: str, key: str, words: str):
    lines = told(tables, meets)
    found = [line for line in lines if key in line and words in line]
    assert found, lines
    assert found[0].startswith("own.toml:")
    assert int(found[0].split(":")[1]) > 1


@pytest.mark.parametrize(("old", "key"), [("port = {", "drain.port.meets"), ("fill = {", "tank.fill.meets")])
def test_only_ports_of_parts_meet_others(old: str, key: str):
    assert BENCH.count(old) == 1
    text = BENCH.replace(old, f"{old} {MEETS},")
    line = text[: text.index(MEETS)].count("\n") + 1
    with pytest.raises(PanelFileError) as error:
        parse_panel(f"{text}\n{TUBE}".encode(), "own.toml")
    assert str(error.value).splitlines() == [
        f"own.toml:{line}: {key}: only a part's port meets another; leave meets out"
    ]


def test_the_port_that_lacks_its_table_is_named_on_its_line():
    line = BENCH[: BENCH.index(INLET)].count("\n") + 1
    (text,) = told("")
    assert text.startswith(f'own.toml:{line}: part.1.inlet.meets: part "')
