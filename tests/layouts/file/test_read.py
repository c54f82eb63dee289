"""A panel file becomes a panel: values, defaults, lines, the schema and the examples."""

from __future__ import annotations

import hashlib
import math
import subprocess
import sys
import textwrap
import tomllib
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import layouts.file.read
from geom.errors import OutOfRange, PanelFileError
from layouts.file.positions import find_lines, show_path
from layouts.file.read import panel_schema, parse_panel, read_panel
from layouts.panel import Panel
from layouts.panels.catalogue import demo_names, demo_path

DOCSTRING = textwrap.dedent((layouts.file.read.__doc__ or "").split("::", 1)[1]).lstrip("\n")
FILES = (*demo_names(), "new")


def line_of(text: str, piece: str) -> int:
    assert text.count(piece) == 1, piece
    return text[: text.index(piece)].count("\n") + 1


@pytest.fixture(scope="module")
def panel() -> Panel:
    return parse_panel(DOCSTRING.encode(), "all.toml")


def test_docstring_is_a_complete_panel_file(panel: Panel) -> None:
    assert (panel.width, panel.height, panel.corner_radius, panel.pitch) == (240, 200, 6, 5)
    assert panel.make.cord == 2.0
    assert panel.make.room == (400, 300, 80)
    assert panel.coolant.mass_fraction == pytest.approx(0.25)
    assert panel.tank.within == (110, 140, 225, 185)
    assert panel.pump.turns == (0, 180)
    compact, quiet = panel.pump.choices
    assert (compact.name, compact.speed, compact.noise_db) == ("compact pump", (1500, 4500), 38)
    assert compact.curve[1] == (pytest.approx(4e-3 / 60), 3.3)
    assert (quiet.name, quiet.speed, quiet.inlet_bore, quiet.seat_diameter) == (
        "quiet pump",
        (1200, 3000),
        9,
        56,
    )
    assert (panel.pump.used, panel.pump.run_at_rpm, panel.pump.most_noise_db) == ("compact pump", 4000, 36)
    assert panel.parts[0].resistance[1] == (pytest.approx(4e-3 / 60), 20_000)
    assert panel.loop == ("tank", "pump", ("left plate", "right plate"), "tank")
    assert panel.rules.accept == {"make.reach": "long-reach cutter in hand"}
    assert panel.rules.test_pressure_pa == pytest.approx(5e4)
    assert panel.sha256 == hashlib.sha256(DOCSTRING.encode()).hexdigest()


@pytest.mark.published(source="Affinity laws: flow with the speed, head with its square")
def test_used_pump_runs_at_its_speed(panel: Panel) -> None:
    flow, head = panel.pump.curve[1]
    assert flow / (4e-3 / 60) == pytest.approx(4000 / 4500)
    assert head / 3.3 == pytest.approx((4000 / 4500) ** 2)


def test_use_names_the_pump_that_the_panel_is_made_for() -> None:
    text = DOCSTRING.replace('use = "compact pump" ', 'use = "quiet pump" ').replace(
        '"4000 rpm"', '"3000 rpm"'
    )
    pump = parse_panel(text.encode(), "a.toml").pump
    assert (pump.used, pump.inlet_bore, pump.outlet_bore, pump.seat_diameter) == ("quiet pump", 9, 9, 56)
    assert pump.curve == pump.choices[1].curve
    assert [choice.name for choice in pump.choices] == ["compact pump", "quiet pump"]


def test_docstring_holds_every_key_of_the_schema() -> None:
    said = set(find_lines(DOCSTRING))
    keys = {part for path in said for part in path if isinstance(part, str)}
    schema = panel_schema()
    known = {key for table in schema["$defs"].values() for key in table.get("properties", {})}
    known |= set(schema["properties"])
    assert known - keys == set()


def test_ports_carry_name_role_place_and_line(panel: Panel) -> None:
    left, right = panel.parts
    assert left.inlet.at == (40, 50)
    assert left.outlet.within == (30, 80, 60, 110)
    assert right.inlet.between == (120, 150)
    assert right.inlet.thread == "G1/8"
    assert right.outlet.at == (60, 200), "a fixed place along the top edge is a point of that edge"
    assert right.outlet.thread == "G1/4"
    assert left.inlet.key == "part.1.inlet"
    assert left.inlet.line == line_of(DOCSTRING, 'inlet = { on = "front", at')
    assert (left.inlet.name, left.inlet.part, left.inlet.role) == ("left plate inlet", "left plate", "inlet")
    assert panel.drain is not None
    assert (panel.drain.name, panel.drain.part, panel.drain.role) == ("drain", "drain", "drain")
    assert panel.tank.fill is not None
    assert (panel.tank.fill.at, panel.tank.fill.within, panel.tank.fill.between) == (None, None, None)


def test_at_line_finds_the_key_or_its_parent(panel: Panel) -> None:
    width = line_of(DOCSTRING, 'width = "8 mm"')
    assert panel.at_line("channel.width") == f"all.toml:{width}: channel.width"
    assert panel.at_line("channel.nothing").startswith(f"all.toml:{line_of(DOCSTRING, '[channel]')}:")


@pytest.mark.parametrize(
    ("on", "place"), [("top", (60, 200)), ("bottom", (60, 0)), ("left", (0, 60)), ("right", (240, 60))]
)
def test_fixed_place_on_an_edge(on: str, place: tuple[float, float]) -> None:
    text = DOCSTRING.replace('{ on = "top", at = "60 mm",', f'{{ on = "{on}", at = "60 mm",')
    assert parse_panel(text.encode(), "a.toml").parts[1].outlet.at == place


def test_defaults() -> None:
    lines = [
        line
        for line in DOCSTRING.splitlines()
        if "unless given" not in line or line.startswith(("inlet", "outlet =", "accept"))
    ]
    text = "\n".join(lines)
    for header in ("[rules]", "[[keep_clear]]", "[drain]", "[[pump.choice]]"):
        start = text.index(header)
        end = text.find("\n[", start + 1)
        text = text[:start] + (text[end + 1 :] if end >= 0 else "")
    panel = parse_panel(text.encode(), "a.toml")
    assert panel.corner_radius == 0
    assert panel.up == (0, 1, 0)
    assert panel.channel.layers == 1
    assert panel.tank.outlet_bore == panel.channel.width
    assert panel.tank.level == pytest.approx(0.85)
    assert panel.pump.turns == (0,)
    (own,) = panel.pump.choices
    assert (own.name, own.speed, panel.pump.used, panel.pump.run_at_rpm) == ("pump", None, "pump", None)
    assert panel.pump.curve == own.curve
    assert panel.parts[0].heat_w == 0
    assert panel.drain is None
    assert panel.keep_clear == ()
    full = parse_panel(DOCSTRING.encode(), "a.toml").rules
    assert panel.rules.accept == {}
    assert (panel.rules.least_wall, panel.rules.most_velocity_m_s, panel.rules.test_pressure_pa) == (
        full.least_wall,
        full.most_velocity_m_s,
        full.test_pressure_pa,
    )


def test_up_is_made_a_unit_vector() -> None:
    panel = parse_panel(DOCSTRING.replace("[0, 1, 0]", "[3, 0.0, 4]").encode(), "a.toml")
    assert panel.up == (0.6, 0.0, 0.8)
    assert math.hypot(*panel.up) == 1


def test_byte_order_mark_and_carriage_returns_are_no_matter() -> None:
    text = "\ufeff" + DOCSTRING.replace("\n", "\r\n")
    panel = parse_panel(text.encode(), "a.toml")
    assert panel.parts[0].line == line_of(DOCSTRING, "[[part]]                            # whatever")


@pytest.mark.parametrize("name", FILES)
def test_examples_are_panels(name: str) -> None:
    panel = read_panel(demo_path(name))
    assert panel.path == str(demo_path(name))
    assert panel == read_panel(demo_path(name)), "the same file gives the same panel"
    schema = panel_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.validate(tomllib.loads(demo_path(name).read_text("utf-8")), schema)


def test_examples_say_that_they_are_invented() -> None:
    for name in FILES:
        assert "nvented" in demo_path(name).read_text("utf-8"), name


def test_examples_differ_in_how_they_are_made() -> None:
    panels = [read_panel(demo_path(name)) for name in demo_names()]
    assert {panel.make.closing for panel in panels} == {"cord", "bonded", "one-piece"}
    assert {panel.make.method for panel in panels} == {"milled", "printed"}
    assert {panel.tank.kind for panel in panels} == {"pocket", "separate"}


def test_unknown_example_lists_the_names() -> None:
    with pytest.raises(OutOfRange, match="workshop-render, laser-driver"):
        demo_path("nothing")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"8 mm"\ndepth', "8\ndepth"),
        ('"8 mm"\ndepth', '"8 furlongs"\ndepth'),
        ('method = "milled"', 'method = "cast"'),
        ("[channel]\n", "[channel]\ncolour = 3\n"),
        ('fluid = "propylene glycol"', ""),
    ],
)
def test_schema_refuses_what_the_reader_refuses(old: str, new: str) -> None:
    text = DOCSTRING.replace(old, new)
    assert text != DOCSTRING
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(tomllib.loads(text), panel_schema())
    with pytest.raises(PanelFileError):
        parse_panel(text.encode(), "a.toml")


def test_the_panel_itself_loads_without_pydantic() -> None:
    code = "import layouts.panel, sys; sys.exit('pydantic' in sys.modules)"
    root = Path(layouts.file.read.__file__).parents[2]
    assert subprocess.run([sys.executable, "-c", code], cwd=root, check=False).returncode == 0


TRICKY = '''
a.b = 1            # 2
a."c d".e = """
two
lines"""           # 3
'lit.eral' = \'\'\'
x\'\'\'            # 6
[t]                # 8
list = [           # 9
  1,               # 10
  # 11
  [2,
   3],             # 12, 13
  { k = "}", m = [ "]", 1979-05-27 07:32:00 ] }, # 14
]
[[p]]              # 16
n = "a\\"#b"       # 17
[p.q]              # 18
z = 1              # 19
[[p]]              # 20
[p.q]              # 21
z.y = { }          # 22
[[p.r]]            # 23
n = 1e3            # 24
[deep.er.still]    # 25
k = 1              # 26
[deep]             # 27
j = 1              # 28
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("a",), 2),
        (("a", "b"), 2),
        (("a", "c d", "e"), 3),
        (("lit.eral",), 6),
        (("t",), 8),
        (("t", "list"), 9),
        (("t", "list", 0), 10),
        (("t", "list", 1), 12),
        (("t", "list", 1, 0), 12),
        (("t", "list", 1, 1), 13),
        (("t", "list", 2), 14),
        (("t", "list", 2, "k"), 14),
        (("t", "list", 2, "m", 1), 14),
        (("p",), 16),
        (("p", 0), 16),
        (("p", 0, "n"), 17),
        (("p", 0, "q"), 18),
        (("p", 0, "q", "z"), 19),
        (("p", 1), 20),
        (("p", 1, "q"), 21),
        (("p", 1, "q", "z", "y"), 22),
        (("p", 1, "r", 0), 23),
        (("p", 1, "r", 0, "n"), 24),
        (("deep", "er", "still"), 25),
        (("deep", "er", "still", "k"), 26),
        (("deep",), 27),
        (("deep", "j"), 28),
    ],
)
def test_lines_of_awkward_documents(path: tuple[str | int, ...], line: int) -> None:
    tomllib.loads(TRICKY)
    assert find_lines(TRICKY)[path] == line


def all_paths(value: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    inner: list[tuple[str | int, object]] = []
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    return [path, *(p for key, item in inner for p in all_paths(item, (*path, key)))]


values = st.recursive(
    st.sampled_from(['"x"', "'y#'", "1", "1.5", "true", '"""a\n#b"""', "'''\n]'''", '"\\"}"', "07:32:00"]),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: "[\n" + " ,# c ]\n".join(items) + "]"),
        st.lists(inner.filter(lambda v: "\n" not in v), max_size=3).map(
            lambda items: "{ " + ", ".join(f"k{i} = {v}" for i, v in enumerate(items)) + " }"
        ),
    ),
    max_leaves=8,
)
headers = st.sampled_from(["", "[a]\n", "[a.b]\n", "[[c]]\n", "[c.d]\n", '["e.f"]\n', "[[c.g]]\n"])
documents = st.lists(st.tuples(headers, st.lists(values, max_size=3)), max_size=5).map(
    lambda tables: "".join(
        header + "".join(f"k{n}{i}.s = {value}\n\n" for i, value in enumerate(inside))
        for n, (header, inside) in enumerate(tables)
    )
)


@given(documents)
@settings(max_examples=150, deadline=None)
def test_every_path_of_a_document_has_its_line(text: str) -> None:
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = find_lines(text)
    assert set(all_paths(data)) - {()} == set(lines)
    source = text.split("\n")
    for path, line in lines.items():
        last = path[-1]
        if isinstance(last, str):
            assert last in source[line - 1]


def test_dotted_keys_count_lists_from_one() -> None:
    assert show_path(("part", 0, "inlet", "at", 1)) == "part.1.inlet.at.2"
    assert show_path(("rules", "accept", "make.reach")) == 'rules.accept."make.reach"'
