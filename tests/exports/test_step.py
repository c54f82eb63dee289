"""STEP read back: names, colours, volumes, call-outs; and one canonical order of its text."""

from __future__ import annotations

import random
import re
from pathlib import Path

import cadquery as cq
import pytest

from exports.check_solids import Checked
from exports.formats.step import StepPart, write_step
from exports.formats.step_text import canonical_step
from exports.pictures.colours import part_colour
from geom.errors import GeometryError
from layouts.plan import Plan


def step_parts(checked: Checked) -> tuple[StepPart, ...]:
    return tuple(StepPart(p.name, p.solid, part_colour(p.name)) for p in checked.solids.parts)


@pytest.fixture(scope="module")
def assembly(plan: Plan, checked: Checked, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("step") / "assembly.step"
    write_step(path, "Küche 水", step_parts(checked), plan.detail.features, assembly=True)
    return path


@pytest.mark.published(source="ISO 10303-242, schema AP242_MANAGED_MODEL_BASED_3D_ENGINEERING, object id 442")
def test_header_names_the_schema_and_no_clock(assembly: Path):
    head = assembly.read_text(encoding="ascii").partition("DATA;")[0]
    assert "AP242_MANAGED_MODEL_BASED_3D_ENGINEERING_MIM_LF {1 0 10303 442" in head.replace("\n", "")
    assert "FILE_NAME('assembly.step','1980-01-01T00:00:00'" in head


def test_one_product_a_part_with_its_own_name(assembly: Path):
    products = re.findall(r"PRODUCT\('([^']*)'", assembly.read_text(encoding="ascii"))
    wanted = ["K\\X2\\00FC\\X0\\che \\X2\\6C34\\X0\\", "body", "cover", "cord 1"]
    assert sorted(products) == sorted(wanted)
    assert "LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.)" in assembly.read_text(encoding="ascii")


def test_reads_back_with_names_colours_and_volumes(assembly: Path, checked: Checked):
    again = cq.Assembly.importStep(str(assembly))
    assert again.name == "Küche 水"
    children = {child.name: child for child in again.children}
    assert children.keys() == {"body", "cover", "cord 1"}
    for name, child in children.items():
        assert child.obj.isValid()
        assert child.obj.Volume() == pytest.approx(checked.solids.part(name).Volume(), rel=1e-8)
        assert child.color.toTuple()[:3] == pytest.approx(part_colour(name)[:3], abs=0.01)


def test_bores_carry_their_thread_as_the_name_of_a_face(assembly: Path):
    faces = set(re.findall(r"ADVANCED_FACE\('([^']+)'", assembly.read_text(encoding="ascii")))
    assert {"port block inlet G1/4", "port drain G1/4", "cover screw 1 M4", "pump inlet bore"} <= faces


def test_a_single_part_is_no_assembly(plan: Plan, checked: Checked, tmp_path: Path):
    write_step(
        tmp_path / "body.step", "unused", step_parts(checked)[:1], plan.detail.features, assembly=False
    )
    text = (tmp_path / "body.step").read_text(encoding="ascii")
    assert "NEXT_ASSEMBLY_USAGE_OCCURRENCE" not in text
    assert re.findall(r"PRODUCT\('([^']*)'", text) == ["body"]
    solid = cq.importers.importStep(str(tmp_path / "body.step")).val()
    assert solid.Volume() == pytest.approx(checked.solids.part("body").Volume(), rel=1e-8)


def test_a_second_writing_in_one_process_gives_the_same_bytes(
    assembly: Path, plan: Plan, checked: Checked, tmp_path: Path
):
    again = tmp_path / "assembly.step"
    write_step(again, "Küche 水", step_parts(checked), plan.detail.features, assembly=True)
    assert again.read_bytes() == assembly.read_bytes()


@pytest.mark.parametrize("seed", range(4))
def test_canonical_order_does_not_depend_on_the_kernels_numbers(assembly: Path, seed: int):
    text = assembly.read_text(encoding="ascii")
    head, _, data = text.partition("DATA;\n")
    lines = re.findall(r"^#(\d+)=(.*);$", data, re.MULTILINE)
    chance = random.Random(seed)
    numbers = [n for n, _ in lines]
    other = dict(zip(numbers, chance.sample(range(1, 9 * len(numbers)), len(numbers)), strict=True))

    def renumber(body: str) -> str:
        pieces = re.split(r"('(?:[^']|'')*')", body)
        return "".join(
            p if k % 2 else re.sub(r"#(\d+)", lambda m: f"#{other[m[1]]}", p) for k, p in enumerate(pieces)
        )

    shuffled = [f"#{other[n]} = {renumber(body)};" for n, body in lines]
    chance.shuffle(shuffled)
    mixed = head + "DATA;\n" + "\n".join(shuffled) + "\nENDSEC;\nEND-ISO-10303-21;\n"
    assert canonical_step(mixed) == text


def test_canonical_order_sorts_styles_and_leaves_strings_alone():
    def file(first: str, second: str) -> str:
        return (
            "HEADER;ENDSEC;\nDATA;\n"
            f"#1=MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',({first},{second}),#9);\n"
            "#2=STYLED_ITEM('it''s #1; here',(#4));\n#3=STYLED_ITEM('b',(#4));\n#4=STYLE('x');\n"
            "#9=(GEOMETRIC_REPRESENTATION_CONTEXT(3)REPRESENTATION_CONTEXT('c','3D'));\nENDSEC;\n"
        )

    assert canonical_step(file("#2", "#3")) == canonical_step(file("#3", "#2"))
    assert "'it''s #1; here'" in canonical_step(file("#2", "#3"))


def test_text_without_data_is_an_error():
    with pytest.raises(GeometryError, match="no DATA section"):
        canonical_step("ISO-10303-21;")
