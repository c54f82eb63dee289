"""Tables against the standards they quote."""

from __future__ import annotations

import csv
import math
from importlib.util import find_spec
from pathlib import Path

import pytest
from printed import assert_as_printed

from geom.standards.tables import cord, cord_sections, material, screw, screw_names, thread, thread_names


def read_standard(name: str) -> list[dict[str, str]]:
    """Return the rows of a table of bd_warehouse, without importing it (it would load a CAD kernel)."""
    spec = find_spec("bd_warehouse")
    assert spec is not None
    assert spec.submodule_search_locations is not None
    with (Path(spec.submodule_search_locations[0]) / "data" / name).open(
        encoding="utf-8", newline=""
    ) as lines:
        return [{(k or "").strip(): v for k, v in row.items()} for row in csv.DictReader(lines)]


@pytest.mark.published(source="ISO 228-1:1994, table 1, as held by bd_warehouse 0.4.0, iso_228_1.csv")
@pytest.mark.parametrize("name", thread_names())
def test_pipe_threads(name: str) -> None:
    row = next(r for r in read_standard("iso_228_1.csv") if f"G{r['size']}" == name)
    t = thread(name)
    assert t.pitch == pytest.approx(25.4 / int(row["tpi"]), rel=1e-12)
    assert_as_printed(t.major, row["major_diameter"])
    assert_as_printed(t.pitch_diameter, row["pitch_diameter"])
    assert_as_printed(t.minor, row["minor_diameter"])
    assert_as_printed(
        t.minor_max, f"{float(row['minor_diameter']) + float(row['internal_minor_tolerance']):.3f}"
    )


@pytest.mark.published(
    source="ISO 228-1:1994, clause 5: thread height 0.640327 p, pitch printed to 0.0001 mm"
)
@pytest.mark.parametrize(
    ("name", "pitch"), [("G1/8", "0.9071"), ("G1/4", "1.3368"), ("G3/8", "1.3368"), ("G1/2", "1.8143")]
)
def test_pipe_thread_height(name: str, pitch: str) -> None:
    t = thread(name)
    assert_as_printed(t.pitch, pitch)
    height = 0.640327 * t.pitch
    assert t.pitch_diameter == pytest.approx(t.major - height, abs=1e-3)
    assert t.minor == pytest.approx(t.major - 2 * height, abs=1e-3)


@pytest.mark.published(source="tap drill tables for threads of ISO 228-1")
@pytest.mark.parametrize(
    ("name", "drill"), [("G1/8", "8.8"), ("G1/4", "11.8"), ("G3/8", "15.25"), ("G1/2", "19.0")]
)
def test_pipe_tap_drills(name: str, drill: str) -> None:
    assert_as_printed(thread(name).tap_drill, drill)


@pytest.mark.published(
    source="DIN 3852-2, narrow form, table of stud ends (printed copy of a fitting catalogue)"
)
@pytest.mark.parametrize(
    ("name", "collar", "spot", "full", "drill"),
    [
        ("G1/8", "14", "15", "8", "13"),
        ("G1/4", "18", "19", "12", "18.5"),
        ("G3/8", "22", "23", "12", "18.5"),
        ("G1/2", "26", "27", "14", "22"),
    ],
)
def test_port_faces(name: str, collar: str, spot: str, full: str, drill: str) -> None:
    t = thread(name)
    assert_as_printed(t.collar, collar)
    assert_as_printed(t.spot_face, spot)
    assert_as_printed(t.full_thread, full)
    assert_as_printed(t.drill_depth, drill)


@pytest.mark.published(source="ISO 273 medium, ISO 4762 head, tap drill table, as held by bd_warehouse 0.4.0")
@pytest.mark.parametrize("name", screw_names())
def test_screws(name: str) -> None:
    s = screw(name)
    size = f"{name}-{s.pitch:g}"
    clearance = next(r for r in read_standard("clearance_hole_sizes.csv") if r["Size"] == name)
    tap = next(r for r in read_standard("tap_hole_sizes.csv") if r["Size"] == size)
    head = next(r for r in read_standard("socket_head_cap_parameters.csv") if r["Size"] == size)
    assert_as_printed(s.clearance, clearance["Normal"])
    assert_as_printed(s.tap_drill, tap["Soft"])
    assert_as_printed(s.head_diameter, head["iso4762:dk"])
    assert_as_printed(s.head_height, head["iso4762:k"])


@pytest.mark.published(
    source="ISO 3601-1, class A sections, as held by bd_warehouse 0.4.0, o-ring_parameters.csv"
)
@pytest.mark.parametrize("section", [1.78, 2.62, 3.53])
def test_cord_sections(section: float) -> None:
    row = next(r for r in read_standard("o-ring_parameters.csv") if float(r["iso3601:w"]) == section)
    assert_as_printed(cord(section).tolerance, row["iso3601:w_tol"])


@pytest.mark.published(source="face seal housing table, https://orings.co.uk/o-ring-housing")
@pytest.mark.parametrize(
    ("section", "depth", "width", "radius"),
    [
        (1.50, "1.10", "2.10", "0.3"),
        (1.78, "1.30", "2.60", "0.3"),
        (2.00, "1.50", "2.80", "0.3"),
        (2.50, "1.90", "3.40", "0.3"),
        (2.62, "2.00", "3.80", "0.3"),
        (3.00, "2.30", "4.00", "0.6"),
        (3.53, "2.70", "5.00", "0.6"),
    ],
)
def test_cord_grooves(section: float, depth: str, width: str, radius: str) -> None:
    c = cord(section)
    assert_as_printed(c.groove_depth, depth)
    assert_as_printed(c.groove_width, width)
    assert_as_printed(c.groove_radius, radius)


@pytest.mark.published(
    source="static face seal: squeeze 15-30 %, fill up to 85 %: Mechanical Engineers' Handbook p. 290"
)
@pytest.mark.parametrize("section", cord_sections())
def test_cord_squeeze_and_fill_stay_inside_the_limits(section: float) -> None:
    c = cord(section)
    thin, thick = c.section - c.tolerance, c.section + c.tolerance
    assert 1 - (c.groove_depth + c.groove_depth_tolerance) / thin >= 0.15
    # Half a per cent beyond: the handbook prints whole per cent.
    assert 1 - c.groove_depth / thick <= 0.305
    assert math.pi / 4 * thick**2 / (c.groove_depth * c.groove_width) <= 0.855


@pytest.mark.published(source="inch gland table for liquids: depths 1.27-1.37, 1.88-2.03 and 2.57-2.72 mm")
@pytest.mark.parametrize(
    ("section", "least", "most"), [(1.78, 1.27, 1.37), (2.62, 1.88, 2.03), (3.53, 2.57, 2.72)]
)
def test_cord_groove_depth_agrees_with_the_inch_table(section: float, least: float, most: float) -> None:
    assert least <= cord(section).groove_depth <= most


@pytest.mark.published(
    source="Aluminum Association typical values: 6061-T6, 68.9 GPa, 276 MPa proof, 23.6e-6/K"
)
def test_aluminium_6061() -> None:
    m = material("aluminium 6061-T6")
    assert_as_printed(m.young_mpa / 1000, "68.9")
    assert_as_printed(2 * m.allowable_mpa, "276")
    assert_as_printed(m.expansion_1_k * 1e6, "23.6")


@pytest.mark.published(source="EN 485-2, EN AW-6082 T6/T651 plate 12.5-60 mm: proof stress 240 MPa")
def test_aluminium_6082() -> None:
    assert_as_printed(2 * material("aluminium 6082-T6").allowable_mpa, "240")


@pytest.mark.published(
    source="acrylic design stress table: 1500 psi cast, 750 psi extruded, continuous, clean air"
)
def test_acrylic_design_stress() -> None:
    psi_mpa = 6.894757e-3
    assert_as_printed(material("PMMA cast").allowable_mpa, f"{1500 * psi_mpa:.1f}")
    assert_as_printed(material("PMMA extruded").allowable_mpa, f"{750 * psi_mpa:.1f}")


@pytest.mark.published(source="sheet data, GPa: PMMA 2.86-3.3, POM-C 2.5-2.86, PC 2.0-2.4, PETG 2.1-2.4")
@pytest.mark.parametrize(
    ("name", "least", "most"),
    [("PMMA cast", 2860, 3300), ("POM-C", 2500, 2860), ("PC", 2000, 2400), ("PETG", 2100, 2400)],
)
def test_plastic_moduli(name: str, least: float, most: float) -> None:
    assert least <= material(name).young_mpa <= most
