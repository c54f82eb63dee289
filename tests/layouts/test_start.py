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
from layouts.panels.catalogue import demo_names, describe_demo
from layouts.panels.start import write_start
from layouts.panels.start_form import PartKind, StartForm, StartPart, read_form
from layouts.routing.effort import QUICK

FORM = StartForm(
    "my panel",
    240,
    160,
    "cord",
    3,
    (StartPart("cold plate", "cooled", 120), StartPart("radiator", "radiator", 20)),
)

KINDS: dict[str, tuple[PartKind, float]] = {"c": ("cooled", 40.0), "r": ("radiator", 30.0)}


def form_of(width: float, height: float, closing: Any, flow: float, order: str) -> StartForm:
    """Return a form with parts of an order as "cc r": two cooled parts side by side, then a radiator."""
    parts = [
        StartPart(f"part {'abcdef'[place]}", *KINDS[kind], beside)
        for place, (kind, beside) in enumerate(
            (kind, k > 0) for stage in order.split() for k, kind in enumerate(stage)
        )
    ]
    return StartForm("my panel", width, height, closing, flow, tuple(parts))


def panel_of(form: StartForm) -> Panel:
    return parse_panel(write_start(form).encode(), "panel.toml")


CORNERS = (
    (150, 120, "cord", 2.5, "c c c r"),
    (150, 120, "cord", 1, "cr"),
    (150, 120, "bonded", 2.5, "c c r c c r"),
    (150, 120, "one-piece", 0.3, "c r"),
    (150, 120, "one-piece", 2, "c r c r"),
    (150, 400, "cord", 0.3, "c c c c c r"),
    (150, 400, "bonded", 2, "ccc rr r"),
    (600, 120, "cord", 2.5, "cccr r r"),
    (600, 120, "one-piece", 2.5, "c r c r c r"),
    (240, 160, "cord", 5, "c r"),
    (240, 160, "bonded", 2, "c cc r"),
    (240, 220, "cord", 2.5, "c rc r"),
    (600, 400, "cord", 5, "c cc r"),
    (600, 400, "bonded", 4, "r c r cc"),
    (600, 400, "one-piece", 5, "ccc ccr"),
    (187.5, 143.2, "cord", 1.5, "c c r"),
)
"""Least and most of every size and number, each closing, and every way of sharing the flow."""

WARM_K = 5.0
"""Further from the file's temperature the coolant's own would be told."""


@pytest.mark.parametrize("corner", CORNERS, ids=str)
def test_a_starting_file_plans_without_a_fault(corner: tuple[float, float, str, float, str]) -> None:
    form = form_of(*corner)
    panel = panel_of(form)
    assert (panel.width, panel.height, panel.make.closing) == corner[:3]
    assert [part.name for part in panel.parts] == [part.name for part in form.parts]
    stages = [tuple(part.name for part in stage) for stage in form.stages()]
    assert [(step,) if isinstance(step, str) else step for step in panel.loop[2:-1]] == stages
    plan = plan_read(panel, effort=QUICK)
    assert not has_fault(plan.findings), plan.findings
    assert form.flow <= plan.flowing.flow_m3_s * 6e4 <= 1.5 * form.flow
    assert abs(plan.advised.heating.tank_c - panel.coolant.temperature_c) < WARM_K
    cautions = {finding.code for finding in plan.findings if finding.severity == "caution"}
    assert cautions.isdisjoint(
        {"heat.level", "test.low", "pump.screws", "port.wall", "flow.fast", "flow.uneven"}
    )
    assert not [finding for finding in plan.findings if finding.code == "heat.capacity"]


ROOMY = (
    (240, 160, "cord", "c r"),
    (300, 200, "cord", "c c r"),
    (300, 200, "bonded", "c c c r"),
    (300, 200, "one-piece", "c r c r"),
    (300, 220, "bonded", "cc r"),
    (400, 300, "cord", "cc cc r"),
)


@pytest.mark.parametrize("roomy", ROOMY, ids=str)
def test_all_coolant_runs_out_of_a_starting_panel_with_room(roomy: tuple[float, float, str, str]) -> None:
    plan = plan_read(panel_of(form_of(roomy[0], roomy[1], roomy[2], 2, roomy[3])), effort=QUICK)
    cautions = {finding.code for finding in plan.findings if finding.severity == "caution"}
    # How a bonded cover is pressed on no form can know.
    assert cautions <= {"bond.clamp", "bond.squeeze"}


@settings(max_examples=60, deadline=None)
@given(
    st.floats(150, 600),
    st.floats(120, 400),
    st.sampled_from(("cord", "bonded", "one-piece")),
    st.floats(0.5, 5),
    st.text("cr ", min_size=1, max_size=10),
)
def test_every_form_can_be_read_or_is_refused_for_its_size(
    width: float, height: float, closing: str, flow: float, order: str
) -> None:
    form = form_of(
        round(width, 2), round(height, 2), closing, round(flow, 2), " ".join(("c", order[:4], "r"))
    )
    flow_fits, ports_fit = form.flow <= 2.5 or (width >= 240 and height >= 160), len(form.parts) <= 3
    alone = not any(part.beside for part in form.parts)
    panel = None
    with suppress(EditRefused):
        panel = panel_of(form)
    assert panel is not None or not (flow_fits and ports_fit and alone)
    assert panel is None or panel.wanted_flow_m3_s == pytest.approx(form.flow / 6e4)


def test_the_text_says_what_is_invented() -> None:
    text = write_start(FORM)
    assert text.count("invented") >= 3
    assert text == write_start(FORM)
    assert 'heat = "120 W"' in text
    assert text.count("heat =") == text.count("capacity =") == 1


def cooled(*heats: float) -> tuple[StartPart, ...]:
    return (
        *(StartPart(str(k), "cooled", heat) for k, heat in enumerate(heats)),
        StartPart("r", "radiator", 100.0),
    )


REFUSED: dict[str, tuple[dict[str, Any], str]] = {
    "narrow": ({"width": 149.0}, "width: 149 mm; give 150 to 600 mm"),
    "nan": ({"height": math.nan}, "height: nan mm; give 120 to 400 mm"),
    "flow": ({"flow": 9.0}, "flow: 9 L/min; give 0.3 to 5 L/min"),
    "flow of a small panel": ({"width": 200.0, "flow": 4.0}, "flow: 4 L/min on a panel of 200 x 160 mm"),
    "hot": ({"flow": 0.5, "parts": cooled(1000)}, "ask for at least 0.73 L/min or for less heat"),
    "too hot": ({"parts": cooled(*5 * [1000])}, "ask for at least 3.61 L/min or for less heat"),
    "little radiator": ({"parts": cooled(900)[:1] + FORM.parts[1:]}, "times as much, or less heat"),
    "radiator of no avail": (
        {
            "flow": 0.5,
            "parts": (
                *(replace(part, beside=part.name != "0") for part in cooled(*3 * [220])[:3]),
                StartPart("r", "radiator", 100.0, True),
            ),
        },
        "and larger ones do not help",
    ),
    "many beside": (
        {"parts": tuple(replace(part, beside=part.name != "0") for part in cooled(*4 * [9]))},
        'beside: 5 parts from "0" on stand side by side; give at most 4',
    ),
    "closing": ({"closing": "glued"}, "closing: read glued"),
    "kind": ({"parts": (StartPart("a", "hot", 1.0),)}, 'kind of "a": read hot; give one of cooled, radiator'),  # type: ignore[arg-type]
    "no part": ({"parts": ()}, "parts: 0; give 1 to 6"),
    "no radiator": ({"parts": FORM.parts[:1]}, "nothing takes the 120 W of the parts away: add a radiator"),
    "nothing cooled": ({"parts": FORM.parts[1:]}, "parts: none is cooled"),
    "beside nothing": (
        {"parts": (replace(FORM.parts[0], beside=True), FORM.parts[1])},
        '"cold plate" is the first',
    ),
    "part twice": ({"parts": 2 * FORM.parts[:1]}, 'a part\'s name: "cold plate": it stands twice'),
    "cold": ({"parts": cooled(0)}, 'heat of "0": 0 W; give 1 to 1000 W'),
    "small": ({"parts": (StartPart("a", "radiator", 0.5),)}, 'capacity of "a": 0.5 W/K; give 1 to 200 W/K'),
    "no name": ({"name": ""}, 'name: ""'),
    "name with a line end": ({"name": "a\nb"}, "printable"),
    "crowded": (
        {"width": 150.0, "height": 120.0, "flow": 1.0, "parts": cooled(*5 * [1.0])},
        "parts: 6 parts on a panel of 150 x 120 mm; in this order it has room for the ports of the first 4",
    ),
}


@pytest.mark.parametrize("radiators", [1, 2])
def test_the_capacity_that_is_asked_for_is_enough(radiators: int) -> None:
    hot = StartPart("a", "cooled", 900.0)
    cold = tuple(StartPart(f"r{k}", "radiator", 10.0) for k in range(radiators))
    with pytest.raises(EditRefused) as caught:
        write_start(replace(FORM, parts=(hot, *cold)))
    times = float(str(caught.value).split("each radiator ")[1].split(" times")[0])
    enough = tuple(replace(part, rating=times * part.rating) for part in cold)
    assert write_start(replace(FORM, parts=(hot, *enough)))
    with pytest.raises(EditRefused):
        write_start(replace(FORM, parts=(hot, *(replace(part, rating=part.rating - 0.2) for part in enough))))


@pytest.mark.parametrize("name", REFUSED)
def test_a_form_out_of_range_is_refused_with_the_range(name: str) -> None:
    values, told = REFUSED[name]
    with pytest.raises(EditRefused) as caught:
        write_start(replace(FORM, **values))
    assert told in str(caught.value)


def test_a_form_is_read_from_a_message() -> None:
    data: dict[str, Any] = {
        "name": "my panel", "width": 240, "height": 160, "closing": "cord", "flow": 3,
        "parts": [
            {"name": "cold plate", "kind": "cooled", "rating": 120, "beside": False},
            {"name": "radiator", "kind": "radiator", "rating": 20, "beside": False},
        ],
    }  # fmt: skip
    assert read_form(data) == FORM
    wrong: list[Any] = [
        [], {}, {**data, "x": 1}, {**data, "width": "240"}, {**data, "width": True}, {**data, "name": 3},
        {**data, "parts": 3}, {**data, "parts": [3]}, {**data, "parts": [{"name": "a"}]},
        {**data, "parts": [data["parts"][0], {**data["parts"][1], "beside": 1}]},
        {**data, "parts": [{**data["parts"][0], "kind": []}]},
        {**data, "flow": 10**400},
        {**data, "closing": []},
    ]  # fmt: skip
    for one in wrong:
        with pytest.raises(EditRefused):
            write_start(read_form(one))


def test_odd_names_are_written_as_text() -> None:
    panel = panel_of(
        replace(
            FORM,
            name='a "b" \\ c',
            parts=(replace(FORM.parts[0], name="x # y"), replace(FORM.parts[1], name="é")),
        )
    )
    assert panel.name == 'a "b" \\ c'
    assert [part.name for part in panel.parts] == ["x # y", "é"]


@pytest.mark.parametrize("name", demo_names())
def test_a_demo_says_in_words_what_it_is(name: str) -> None:
    said = describe_demo(name)
    assert said.endswith(".")
    assert 20 < len(said) < 400
    assert "#" not in said
    assert "Invented" not in said


@pytest.mark.parametrize("name", ["tank", "pump", "drain", "bleed"])
def test_names_of_the_panels_own_pieces_are_refused(name: str) -> None:
    with pytest.raises(EditRefused, match="a piece of the panel bears it"):
        write_start(replace(FORM, parts=(replace(FORM.parts[0], name=name), FORM.parts[1])))
