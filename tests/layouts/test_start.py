"""Starting files: whatever the form takes can be read, laid out, and has no fault."""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exports.pipeline import plan_read
from geom.errors import EditRefused
from geom.findings import has_fault
from layouts.file.read import parse_panel
from layouts.panel import Panel
from layouts.panels.catalogue import demo_names, list_demos
from layouts.panels.start import StartForm, read_form, write_start
from layouts.routing.effort import QUICK

FORM = StartForm("my panel", 240, 160, "cord", 3, (("cold plate", 120.0), ("radiator", 0.0)))


def form_of(width: float, height: float, closing: Any, flow: float, parts: int) -> StartForm:
    return StartForm("my panel", width, height, closing, flow, tuple((f"part {k}", 25.0 * k) for k in range(parts)))


def panel_of(form: StartForm) -> Panel:
    return parse_panel(write_start(form).encode(), "panel.toml")


CORNERS = (
    (150, 120, "cord", 2.5, 4),
    (150, 120, "bonded", 2.5, 6),
    (150, 120, "one-piece", 0.3, 1),
    (150, 400, "cord", 0.3, 6),
    (600, 120, "cord", 2.5, 6),
    (600, 120, "one-piece", 2.5, 6),
    (240, 160, "cord", 5, 2),
    (240, 160, "bonded", 1, 2),
    (600, 400, "cord", 5, 6),
    (600, 400, "one-piece", 0.3, 1),
    (187.5, 143.2, "cord", 1.5, 3),
)


@pytest.mark.parametrize("corner", CORNERS, ids=str)
def test_a_starting_file_plans_without_a_fault(corner: tuple[float, float, str, float, int]) -> None:
    panel = panel_of(form_of(*corner))
    assert (panel.width, panel.height, panel.make.closing) == corner[:3]
    assert [part.name for part in panel.parts] == [f"part {k}" for k in range(corner[4])]
    plan = plan_read(panel, effort=QUICK)
    assert not has_fault(plan.findings), plan.findings
    assert math.isclose(plan.flowing.flow_m3_s * 6e4, corner[3], rel_tol=0.6)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(150, 600),
    st.floats(120, 400),
    st.sampled_from(("cord", "bonded", "one-piece")),
    st.floats(0.3, 5),
    st.integers(1, 6),
)
def test_every_form_can_be_read_or_is_refused_for_its_size(
    width: float, height: float, closing: str, flow: float, parts: int
) -> None:
    form = form_of(round(width, 2), round(height, 2), closing, round(flow, 2), parts)
    flow_fits, ports_fit = form.flow <= 2.5 or (width >= 240 and height >= 160), parts <= 4 or width >= 240
    panel = None
    with suppress(EditRefused):
        panel = panel_of(form)
    assert panel is not None or not (flow_fits and ports_fit)
    assert panel is None or panel.wanted_flow_m3_s == pytest.approx(form.flow / 6e4)


def test_the_text_says_what_is_invented() -> None:
    text = write_start(FORM)
    assert text.count("invented") >= 3
    assert text == write_start(FORM)
    assert 'heat = "120 W"' in text
    assert text.count("heat =") == 1


REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "narrow": ({"width": 149.0}, "width: 149 mm; give 150 to 600 mm"),
    "nan": ({"height": math.nan}, "height: nan mm; give 120 to 400 mm"),
    "flow": ({"flow": 9.0}, "flow: 9 L/min; give 0.3 to 5 L/min"),
    "flow of a small panel": ({"width": 200.0, "flow": 4.0}, "flow: 4 L/min on a panel of 200 x 160 mm"),
    "hot": ({"flow": 0.5, "parts": (("a", 1000.0),)}, "ask for at least 0.73 L/min or for less heat"),
    "too hot": ({"parts": tuple((str(k), 1000.0) for k in range(6))}, "ask for at least 4.33 L/min or for less heat"),
    "closing": ({"closing": "glued"}, "closing: read glued"),
    "no part": ({"parts": ()}, "parts: 0; give 1 to 6"),
    "part twice": ({"parts": (("a", 1.0), ("a", 2.0))}, 'a part\'s name: "a": it stands twice'),
    "part called pump": ({"parts": (("pump", 1.0),)}, "a piece of the panel bears it"),
    "cold": ({"parts": (("a", -1.0),)}, 'heat of "a": -1 W; give 0 to 1000 W'),
    "no name": ({"name": ""}, 'name: ""'),
    "name with a line end": ({"name": "a\nb"}, "printable"),
    "crowded": (
        {"width": 150.0, "height": 120.0, "flow": 1.0, "parts": tuple((str(k), 1.0) for k in range(6))},
        "parts: 6 parts on a panel of 150 x 120 mm",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_form_out_of_range_is_refused_with_the_range(name: str) -> None:
    values, told = REFUSED[name]
    with pytest.raises(EditRefused) as caught:
        write_start(replace(FORM, **values))
    assert told in str(caught.value)


def test_a_form_is_read_from_a_message() -> None:
    data: dict[str, Any] = {
        "name": "my panel", "width": 240, "height": 160, "closing": "cord", "flow": 3,
        "parts": [{"name": "cold plate", "heat": 120}, {"name": "radiator", "heat": 0}],
    }  # fmt: skip
    assert read_form(data) == FORM
    wrong: list[Any] = [
        [], {}, {**data, "x": 1}, {**data, "width": "240"}, {**data, "width": True}, {**data, "name": 3},
        {**data, "parts": 3}, {**data, "parts": [3]}, {**data, "parts": [{"name": "a"}]}, {**data, "flow": 10**400},
        {**data, "closing": []},
    ]  # fmt: skip
    for one in wrong:
        with pytest.raises(EditRefused):
            write_start(read_form(one))


def test_odd_names_are_written_as_text() -> None:
    panel = panel_of(replace(FORM, name='a "b" \\ c', parts=(("x # y", 1.0), ("é", 0.0))))
    assert panel.name == 'a "b" \\ c'
    assert [part.name for part in panel.parts] == ["x # y", "é"]


def test_demos_are_listed_with_a_sentence() -> None:
    listed = list_demos()
    assert tuple(name for name, _ in listed) == demo_names()
    for _, said in listed:
        assert said.endswith(".")
        assert 20 < len(said) < 160
        assert not said.startswith("#")


@pytest.mark.parametrize("name", ["tank", "pump", "drain", "bleed"])
def test_names_of_the_panels_own_pieces_are_refused(name: str) -> None:
    with pytest.raises(EditRefused, match="a piece of the panel bears it"):
        write_start(replace(FORM, parts=((name, 0.0),)))


def test_starting_files_ask_for_no_other_pressure_or_thread() -> None:
    for closing, parts in (("bonded", 6), ("one-piece", 3)):
        plan = plan_read(panel_of(form_of(400, 240, closing, 2, parts)), effort=QUICK)
        codes = {finding.code for finding in plan.findings if finding.severity == "caution"}
        assert codes.isdisjoint({"test.low", "pump.screws", "port.wall"})
