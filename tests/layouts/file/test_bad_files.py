"""Every kind of bad panel file: the right line, what was read, and what to write instead."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from geom.errors import PanelFileError
from layouts.file.read import MOST_BYTES, parse_panel, read_panel
from layouts.panel import Panel
from layouts.panels.catalogue import demo_path

GOOD = Path(__file__).parents[1].joinpath("bench.toml").read_text("utf-8")


def problems_of(data: str | bytes) -> tuple[str, ...]:
    data = data.encode() if isinstance(data, str) else data
    with pytest.raises(PanelFileError) as caught:
        parse_panel(data, "bench.toml")
    return caught.value.problems


def change(old: str, new: str) -> str:
    assert GOOD.count(old) == 1, old
    return GOOD.replace(old, new)


def line_of(text: str, piece: str) -> int:
    assert text.count(piece) == 1, piece
    return text[: text.index(piece)].count("\n") + 1


def test_the_base_is_good() -> None:
    assert parse_panel(GOOD.encode(), "bench.toml").name == "bench"


CASES = {
    # name: (old, new, text on the line told, key told, pieces of the message)
    "bare length": ('"8 mm"\ndepth', "8\ndepth", "width = 8", "channel.width", ["8 has no unit", "'8 mm'"]),
    "bare text": (
        '"8 mm"\ndepth',
        '"8"\ndepth',
        'width = "8"',
        "channel.width",
        ["'8' has no unit; write e.g. '8 mm' (units: mm, cm, m, in)"],
    ),
    "wrong unit": ('"35 °C"', '"35 mm"', '"35 mm"', "coolant.temperature", ["35 mm", "°C, C, K, °F"]),
    "negative": (
        'width = "8 mm"',
        'width = "-8 mm"',
        "-8 mm",
        "channel.width",
        ["-8 mm", "at least 0.001 mm"],
    ),
    "no such metal": (
        'name = "left"',
        'name = "left"\nmetal = "cheese"',
        "cheese",
        "part.1.metal",
        ["'cheese'", "'aluminium', 'copper', 'brass', 'stainless steel' or 'nickel'"],
    ),
    "inhibited in words": (
        '"35 °C"',
        '"35 °C"\ninhibited = "yes"',
        "inhibited",
        "coolant.inhibited",
        ["'yes'", "true or false"],
    ),
    "inserts as a number": (
        'cover = "8 mm"',
        'cover = "8 mm"\ninserts = 1',
        "inserts",
        "make.inserts",
        ["read 1; expected true or false"],
    ),
    "large washers as a diameter": (
        'cover = "8 mm"',
        'cover = "8 mm"\nlarge_washers = "12 mm"',
        "large_washers",
        "make.large_washers",
        ["'12 mm'", "true or false"],
    ),
    "a screw's hole without a unit": (
        'cover = "8 mm"',
        'cover = "8 mm"\nscrew_hole = 4.8',
        "screw_hole",
        "make.screw_hole",
        ["4.8", "mm"],
    ),
    "shared grooves in words": (
        'cover = "8 mm"',
        'cover = "8 mm"\nshare_groove = "yes"',
        "share_groove",
        "make.share_groove",
        ["'yes'", "true or false"],
    ),
    "cover material as a number": (
        'cover = "8 mm"',
        'cover = "8 mm"\ncover_material = 6082',
        "cover_material",
        "make.cover_material",
        ["6082", "text in quotes"],
    ),
    "posts as a count": (
        'kind = "pocket"',
        'kind = "pocket"\nposts = 3',
        "posts",
        "tank.posts",
        ["read 3", "'none' or 'auto'"],
    ),
    "zero": ('body = "20 mm"', 'body = "0 mm"', 'body = "0', "make.body", ["0 mm", "at least"]),
    "infinite": ('body = "20 mm"', 'body = "1e400 mm"', "1e400", "make.body", ["1e400", "too large"]),
    "over 2 m": ('"240 mm"', '"2.4 m"', "2.4 m", "panel.size.1", ["2.4 m", "at most 2 m"]),
    "true": ('"9 mm"\n', "true\n", "depth = true", "channel.depth", ["true is not a length", "'8 mm'"]),
    "TOML nan": ('"9 mm"\n', "nan\n", "depth = nan", "channel.depth", ["nan has no unit"]),
    "date": ('"9 mm"\n', "2020-01-01\n", "2020-01-01", "channel.depth", ["2020-01-01 is not a length"]),
    "huge hex": (
        '"9 mm"\n',
        f"0x{'f' * 5000}\n",
        "0xf",
        "channel.depth",
        ["a whole number of about 6021 digits has no unit"],
    ),
    "unknown key": (
        "[channel]\n",
        '[channel]\nwdith = "8 mm"\n',
        "wdith",
        "channel.wdith",
        ["unknown key", "did you mean 'width'", "width, depth, bend_radius, layers"],
    ),
    "unknown table": (
        "[drain]",
        "[extra]\n[drain]",
        "[extra]",
        "extra",
        ["unknown key 'extra'", "panel, make, channel"],
    ),
    "unknown key in a port": (
        '"left", between',
        '"left", betwen = 1, between',
        "betwen",
        "part.2.inlet.betwen",
        ["did you mean 'between'", "on, thread, at, within, between"],
    ),
    "missing key": (
        'bend_radius = "14 mm"\n',
        "",
        "[channel]",
        "channel.bend_radius",
        ["missing", '"14 mm"', "e.g."],
    ),
    "missing table": ("[channel]", "[rules.channel]", "[panel]", "channel", ["missing", "width, depth"]),
    "missing name of second part": (
        '[[part]]\nname = "right"\n',
        "[[part]] # second\n",
        "# second",
        "part.2.name",
        ["missing"],
    ),
    "no such face": (
        '{ on = "top" }',
        '{ on = "roof" }',
        "roof",
        "tank.fill.on",
        ["'roof'", "'front', 'back'"],
    ),
    "pump on an edge": (
        '[pump]\non = "front"',
        '[pump]\non = "left"',
        'on = "left"\nw',
        "pump.on",
        ["'left'", "'front' or 'back'"],
    ),
    "no such method": ('"milled"', '"cast"', "method", "make.method", ["'cast'", "'milled' or 'printed'"]),
    "no such closing": ('"cord"\nm', '"glue"\nm', "glue", "make.closing", ["'glue'", "'cord', 'bonded'"]),
    "no such fluid": ('"water"', '"oil"', "oil", "coolant.fluid", ["'oil'", "'water'"]),
    "one size": (
        '["240 mm", "200 mm"]',
        '["240 mm"]',
        '["240 mm"]',
        "panel.size",
        ["1 entries", "at least 2"],
    ),
    "three corners": (
        '"25 mm", "20 mm"]',
        '"25 mm"]',
        "box",
        "keep_clear.1.box",
        ["3 entries", "at least 4"],
    ),
    "text for a list": (
        '["240 mm", "200 mm"]',
        '"240 mm"',
        'size = "2',
        "panel.size",
        ["'240 mm'", "a list"],
    ),
    "list for a text": ('name = "bench"', "name = []", "name = []", "panel.name", ["a list of 0", "text"]),
    "table for a text": ('name = "bench"', "name = {}", "name = {}", "panel.name", ["a table", "text"]),
    "text for a port": (
        '{ on = "top" }',
        '"top"',
        'fill = "top"',
        "tank.fill",
        ["'top'", "a table", 'on = "front"'],
    ),
    "count of 2.5": ("count = 4", "count = 2.5", "2.5 }", "pump.screws.count", ["2.5", "whole number"]),
    "one screw": ("count = 4", "count = 1", "count = 1", "pump.screws.count", ["read 1", "at least 2"]),
    "three layers": (
        '"14 mm"\n\n[cool',
        '"14 mm"\nlayers = 3\n\n[cool',
        "layers",
        "channel.layers",
        ["3", "at most 2"],
    ),
    "up of two": (
        '"5 mm"\n\n[make',
        '"5 mm"\nup = [0, 1]\n\n[make',
        "up",
        "panel.up",
        ["2 entries", "at least 3"],
    ),
    "up of texts": (
        '"5 mm"\n\n[make',
        '"5 mm"\nup = [0, "1", 0]\n\n[make',
        "up",
        "panel.up.2",
        ["'1'", "a number"],
    ),
    "up not finite": (
        '"5 mm"\n\n[make',
        '"5 mm"\nup = [0, inf, 0]\n\n[make',
        "up",
        "panel.up.2",
        ["inf", "finite"],
    ),
    "point of three": (
        '["4 L/min", "3.3 m"]',
        '["4 L/min", "3.3 m", "1 m"]',
        "3.3 m",
        "pump.curve.2",
        ["3 entries"],
    ),
    "point of one": ('["4 L/min", "3.3 m"]', '["4 L/min"]', '["4 L/min"]', "pump.curve.2.2", ["missing"]),
    "head in kPa": ('"3.3 m"', '"33 kPa"', "33 kPa", "pump.curve.2.2", ["33 kPa", "m, cm, mm, ft"]),
    "curve of one point": (
        '    ["4 L/min", "3.3 m"],\n',
        "",
        "curve",
        "pump.curve",
        ["1 entries", "at least 2"],
    ),
    "negative head": ('"3.3 m"', '"-1 m"', "-1 m", "pump.curve.2.2", ["-1 m", "at least 0 m"]),
    "no points": ('[["4 L/min", "6 kPa"]]', "[]", "resistance = []", "part.2.resistance", ["0 entries"]),
    "level over full": (
        "fill = {",
        'level = "120 %"\nfill = {',
        "120 %",
        "tank.level",
        ["120 %", "at most 1"],
    ),
    "chain of one": (
        '["left", "right"]',
        '["left", ["right"]]',
        "order",
        "loop.order.3.2",
        ["a chain of 1 in a parallel group: [right]", "without brackets"],
    ),
    "empty chain": (
        '["left", "right"]',
        '["left", "right", []]',
        "order",
        "loop.order.3.3",
        ["a chain of 0 in a parallel group;", "two or more"],
    ),
    "group of one in a chain": (
        '["left", "right"]',
        '[["left", ["right"]], "left"]',
        "order",
        "loop.order.3.1.2",
        ["a parallel group of 1: [right]", "without brackets"],
    ),
    "part twice in a nested group": (
        '["left", "right"]',
        '[["left", ["right", "left"]], "right"]',
        "order",
        "loop.order.3.1.2.2",
        ["'left' stands twice"],
    ),
    "nested too deep": (
        '["left", "right"]',
        '[["left", ["right", ["left", ["right", "left"]]]]]',
        "order",
        "loop.order.3.1.2.2.2",
        ["at most 4 deep", "a part's name"],
    ),
    "number in the loop": (
        '["left", "right"]',
        "7",
        "order",
        "loop.order.3",
        ["7", "name in quotes, or a list"],
    ),
    "table in the loop": (
        '["left", "right"]',
        '["left", { parallel = ["right"] }]',
        "order",
        "loop.order.3.2",
        ["read a table; expected a part's name in quotes, or a list of names"],
    ),
    "number in the innermost list": (
        '["left", "right"]',
        '["left", ["right", ["left", 7]]]',
        "order",
        "loop.order.3.2.2.2",
        ["read 7; expected a part's name in quotes"],
    ),
    "projection of no standard": (
        "[rules]",
        '[drawing]\nprojection = "second angle"\n\n[rules]',
        "second angle",
        "drawing.projection",
        ["'second angle'", "'first angle'", "'third angle'"],
    ),
    "paper that no sheet is laid on": (
        "[rules]",
        '[drawing]\npaper = "A0"\n\n[rules]',
        "A0",
        "drawing.paper",
        ["'A0'", "'A3'", "'A4'"],
    ),
    "roughness in millimetres": (
        "[rules]",
        '[drawing]\nroughness = "0.0016 mm"\n\n[rules]',
        "0.0016 mm",
        "drawing.roughness",
        ["not one of roughness", "1.6 um", "µm"],
    ),
    "roughness of a casting": (
        "[rules]",
        '[drawing]\nroughness = "160 um"\n\n[rules]',
        "160 um",
        "drawing.roughness",
        ["too large", "at most 50 um"],
    ),
    "empty name": ('name = "bench"', 'name = ""', 'name = ""', "panel.name", ["'' is not a name", "1 to 60"]),
    "name of two lines": ('"bench"', '"be\\nnch"', "nch", "panel.name", ["printable"]),
    "empty reason": ('"long cutter"', '" "', "accept", 'rules.accept."make.reach"', ["reason"]),
    "reason of no text": ('"long cutter"', "1", "accept", 'rules.accept."make.reach"', ["1", "text"]),
}


@pytest.mark.parametrize(("old", "new", "piece", "key", "told"), CASES.values(), ids=CASES.keys())
def test_bad_value(old: str, new: str, piece: str, key: str, told: list[str]) -> None:
    text = change(old, new)
    start = f"bench.toml:{line_of(text, piece)}: {key}: "
    problems = problems_of(text)
    found = [problem for problem in problems if problem.startswith(start) and all(t in problem for t in told)]
    assert len(found) == 1, problems
    assert "\n" not in found[0]


def test_all_errors_of_the_shape_at_once() -> None:
    text = GOOD
    for old, new in (
        ('"5 mm"\n\n[make', "5\n\n[make"),
        ('"milled"', '"cast"'),
        ('bend_radius = "14 mm"\n', ""),
        ("[rules]\n", "[rules]\nextra = 1\n"),
        ('    ["4 L/min", "3.3 m"]', '    ["4 mm", 3.3]'),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    problems = problems_of(text)
    keys = [problem.split(": ")[1] for problem in problems]
    assert keys == [
        "panel.pitch",
        "make.method",
        "channel.bend_radius",
        "pump.curve.2.1",
        "pump.curve.2.2",
        "rules.extra",
    ]
    lines = [int(problem.split(":")[1]) for problem in problems]
    assert lines == sorted(lines)
    assert lines[3] == lines[4] == line_of(text, '["4 mm", 3.3]')


@pytest.mark.parametrize("data", [b"", b"\n\n", b"# nothing\n", b"\xef\xbb\xbf"])
def test_empty_file(data: bytes) -> None:
    (problem,) = problems_of(data)
    assert problem.startswith("bench.toml:1: the file is empty")
    assert "rillplate new" in problem


def test_not_utf8() -> None:
    data = GOOD.replace("35 °C", "35 XC").encode().replace(b"X", b"\xb0")
    (problem,) = problems_of(data)
    assert problem.startswith(f"bench.toml:{line_of(GOOD, '35 °C')}: byte 0xb0 is not UTF-8")
    assert "save the file as UTF-8" in problem


@pytest.mark.parametrize(
    ("old", "new", "piece", "column"),
    [
        ('depth = "9 mm"', "depth = 9 mm", "9 mm", 11),
        ('name = "bench"', "name bench", "name bench", 6),
        ("[coolant]", "[coolant", "[coolant", 9),
        ('"120 W"', '"120 W" heat = "1 W"', '"1 W"', 16),
    ],
)
def test_not_toml(old: str, new: str, piece: str, column: int) -> None:
    text = change(old, new)
    (problem,) = problems_of(text)
    assert problem.startswith(f"bench.toml:{line_of(text, piece)}: column {column}: not TOML: ")
    assert "texts in quotes" in problem


def test_cut_off_file() -> None:
    (problem,) = problems_of(GOOD + "[")
    assert re.match(rf"bench\.toml:{GOOD.count(chr(10)) + 1}: not TOML: .* at the end of the file", problem)


@pytest.mark.parametrize("depth", [100, 300, 480, 500, 900, 1100, 5000, 100_000])
@pytest.mark.parametrize(
    ("opening", "inside", "closing"), [("[", "", "]"), ("{ a = ", "1", " }"), ("[ { a = ", "1", " } ]")]
)
def test_deep_nesting(depth: int, opening: str, inside: str, closing: str) -> None:
    problems = problems_of(GOOD + "deep = " + opening * depth + inside + closing * depth)
    assert len(problems) == 1


def test_too_many_digits() -> None:
    (problem,) = problems_of(GOOD + f"many = {'1' * 5000}\n")
    last = GOOD.count("\n") + 1
    assert problem == f"bench.toml:{last}: a whole number of 5000 digits; write a number of a few digits"


@pytest.mark.parametrize(
    ("old", "new", "piece", "told"),
    [
        (
            'pitch = "5 mm"',
            'pitch = "5 mm"\npitch = "5 mm" #',
            "#",
            "key 'pitch' stands twice in its table, first on",
        ),
        (
            'pitch = "5 mm"',
            'pitch = "5 mm"\n"pitch" = [ # here\n1,\n2]',
            "# here",
            "key 'pitch' stands twice",
        ),
        (
            'pitch = "5 mm"',
            'pitch = "5 mm"\npitch.a = 1 #',
            "#",
            "'pitch.a' gives a key that already has a value",
        ),
        ("[channel]", "[make] #\n[channel]", "#", "the table [make] stands twice"),
    ],
)
def test_what_stands_twice_is_named(old: str, new: str, piece: str, told: str) -> None:
    text = change(old, new)
    (problem,) = problems_of(text)
    assert problem.startswith(f"bench.toml:{line_of(text, piece)}: ")
    assert told in problem


def test_the_first_of_a_key_that_stands_twice_is_the_one_in_its_own_table() -> None:
    text = change("[channel]", '[channel]\nwidth = "7 mm"')
    (problem,) = problems_of(text)
    line = line_of(text, '"7 mm"')
    assert problem.startswith(f"bench.toml:{line + 1}: ")
    assert f"'width' stands twice in its table, first on line {line};" in problem


def test_too_large_file(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"# " + b"x" * MOST_BYTES)
    with pytest.raises(PanelFileError) as caught:
        read_panel(path)
    assert caught.value.problems[0].startswith(f"{path}: {MOST_BYTES + 2} bytes")
    assert str(MOST_BYTES) in caught.value.problems[0]


def test_largest_file(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    data = GOOD.encode()
    path.write_bytes(data + b"#" * (MOST_BYTES - len(data)))
    assert read_panel(path).name == "bench"


def test_missing_file() -> None:
    with pytest.raises(PanelFileError, match=r"^nowhere/none\.toml: no such file; `rillplate new FILE`"):
        read_panel("nowhere/none.toml")


def test_directory(tmp_path: Path) -> None:
    with pytest.raises(PanelFileError, match=r"is a directory; name a panel file"):
        read_panel(tmp_path)


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000])
def test_impossible_name(name: str) -> None:
    with pytest.raises(PanelFileError, match="cannot be read"):
        read_panel(name)


@pytest.mark.skipif(sys.platform == "win32", reason="no such device")
def test_endless_file() -> None:
    with pytest.raises(PanelFileError, match="bytes"):
        read_panel("/dev/zero")


DEMO = demo_path("workshop-render").read_text("utf-8")
PIECES = [
    '"',
    "'",
    "[",
    "]",
    "{",
    "}",
    "=",
    ",",
    ".",
    "#",
    "\n",
    " ",
    "-",
    "0",
    "9",
    "e",
    "\\",
    "\0",
    "é",
    "mm",
    "nan",
]
VALUES = [
    '"8 mm"',
    '"-1 mm"',
    '"0 mm"',
    '"1e300 mm"',
    "0",
    "nan",
    "true",
    "[]",
    "{}",
    '""',
    '"tank"',
    '"2 m"',
    '"x"',
]
VALUE = re.compile(r'"[^"\n]*"')
KEY = re.compile(r"^[a-z_]+(?= =)", re.MULTILINE)
places = st.floats(0, 1, exclude_max=True)


@st.composite
def mutated(draw: st.DrawFn) -> str:
    text = DEMO
    for _ in range(draw(st.integers(1, 4))):
        kind = draw(
            st.sampled_from(["delete", "insert", "replace", "drop line", "copy line", "swap", "value", "key"])
        )
        at = int(draw(places) * len(text))
        lines = text.split("\n")
        row = int(draw(places) * len(lines))
        if kind == "delete":
            text = text[:at] + text[at + draw(st.integers(1, 20)) :]
        elif kind == "insert":
            text = text[:at] + draw(st.sampled_from(PIECES)) + text[at:]
        elif kind == "replace":
            text = text[:at] + draw(st.sampled_from(PIECES)) + text[at + 1 :]
        elif kind == "drop line":
            text = "\n".join(lines[:row] + lines[row + 1 :])
        elif kind == "copy line":
            text = "\n".join([*lines[:row], lines[int(draw(places) * len(lines))], *lines[row:]])
        elif kind == "swap":
            other = int(draw(places) * len(lines))
            lines[row], lines[other] = lines[other], lines[row]
            text = "\n".join(lines)
        else:
            matches = list((VALUE if kind == "value" else KEY).finditer(text))
            if matches:
                match = matches[int(draw(places) * len(matches))]
                words = VALUES + [m.group() for m in VALUE.finditer(DEMO)]
                if kind == "key":
                    words = ["name", "at", "within", "between", "size", "x", '"a.b"', "a.b"]
                text = text[: match.start()] + draw(st.sampled_from(words)) + text[match.end() :]
    return text


@given(mutated())
@settings(max_examples=400, deadline=None)
@example(DEMO)
def test_a_mutated_file_is_a_panel_or_an_error_with_its_line(text: str) -> None:
    try:
        panel = parse_panel(text.encode(), "demo.toml")
    except PanelFileError as error:
        problems = error.problems
    else:
        assert isinstance(panel, Panel)
        return
    assert problems
    last = text.count("\n") + 1
    for problem in problems:
        match = re.match(r"demo\.toml:(\d+): (.+)", problem)
        assert match, problem
        assert 1 <= int(match[1]) <= last
        assert "\n" not in problem


@given(st.binary(max_size=200))
@settings(max_examples=100, deadline=None)
def test_any_bytes_are_an_error(data: bytes) -> None:
    assert problems_of(data)
