"""The drawing's DXF and PDF files, read back: true arcs, true measures, letters where the values put them."""

from __future__ import annotations

import math
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import ezdxf
import pytest
from ezdxf.document import Drawing
from ezdxf.entities import Arc as ArcEntity
from ezdxf.entities import Dimension, Hatch, Text
from ezdxf.entities.boundary_paths import ArcEdge, LineEdge
from fontTools.ttLib import TTFont
from sample_drawing import small_drawing

from exports.drawing.annotations import ordinate_value, sheet_labels
from exports.drawing.dxf_document import BETWEEN, build_document, write_drawing_dxf
from exports.drawing.dxf_styles import PENS, layer_name
from exports.drawing.pdf_pages import write_drawing_pdf
from exports.drawing.values import Label, Linear, Ordinate, Sheet
from exports.lettering import BOLD, CAPITALS, FOLDER, MM, PLAIN, text_width
from geom.outline import Arc, Line, loop_area

SHEETS = small_drawing().sheets
ASCENT, DESCENT = 0.928, -0.236
"""Of the face over its size, [-]: between them stands the box that poppler tells of a word."""


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("drawing")
    drawn = build_document(small_drawing())
    write_drawing_dxf(folder / "drawing.dxf", drawn)
    write_drawing_pdf(folder / "drawing.pdf", drawn)
    return folder


@pytest.fixture(scope="module")
def document(files: Path) -> Drawing:
    return ezdxf.readfile(files / "drawing.dxf")


def sheet_ranges() -> list[tuple[float, float]]:
    """Return where the paper of each sheet lies along x of the model space."""
    out, x = [], 0.0
    for sheet in SHEETS:
        out.append((x, x + sheet.size[0] / sheet.scale))
        x += (sheet.size[0] + BETWEEN) / sheet.scale
    return out


def in_model(sheet: Sheet, point: tuple[float, float]) -> tuple[float, float]:
    x = sheet_ranges()[sheet.number - 1][0]
    return x + point[0] / sheet.scale, point[1] / sheet.scale


def test_audit_finds_nothing_to_mend(document: Drawing):
    audit = document.audit()
    assert audit.errors == []
    assert audit.fixes == []
    assert document.dxfversion >= "AC1024"
    assert document.header["$INSUNITS"] == 4


def test_main_views_are_of_true_size_with_true_arcs(document: Drawing):
    sheet = SHEETS[0]
    placed = sheet.views[0]
    expected = {}
    for line in placed.view.lines:
        s = line.segment
        if isinstance(s, Arc):
            u, v = s.centre
            at = in_model(sheet, (placed.corner[0] + 0.5 * u, placed.corner[1] + 0.5 * v))
            first, turn = math.degrees(s.first) % 360, math.degrees(s.sweep)
            expected[(round(at[0], 6), round(at[1], 6), round(s.radius, 6))] = (first, turn, line.style)
    found = {}
    for entity in document.modelspace().query("ARC CIRCLE"):
        key = tuple(round(value, 6) for value in (*entity.dxf.center.vec2, entity.dxf.radius))
        first, turn = 0.0, 360.0
        if isinstance(entity, ArcEntity):
            first, turn = entity.dxf.start_angle, (entity.dxf.end_angle - entity.dxf.start_angle) % 360
        found[key] = (first, turn, entity.dxf.layer)
    for key, (first, turn, style) in expected.items():
        assert found[key][:2] == pytest.approx((first, turn))
        assert found[key][2] == layer_name(style)


def test_detail_is_enlarged_in_proportion(document: Drawing):
    # A circle of 8 mm at 2:1 on a sheet of 1:2 is drawn four times as large.
    radii = [round(circle.dxf.radius, 6) for circle in document.modelspace().query("CIRCLE")]
    assert radii.count(32.0) == 1
    assert radii.count(8.0) == 1


def test_dimensions_tell_the_models_lengths(document: Drawing):
    wanted: list[tuple[str, float, str]] = []
    for sheet in SHEETS:
        for item in sheet.items:
            if isinstance(item, Ordinate):
                wanted.append(("ordinate", ordinate_value(item, sheet.views[item.view]), ""))
            elif isinstance(item, Linear):
                k = 0 if item.axis == "u" else 1
                wanted.append(("linear", abs(item.end[k] - item.start[k]), item.tolerance))
    told = []
    for dimension in document.modelspace().query("DIMENSION"):
        assert isinstance(dimension, Dimension)
        style = document.dimstyles.get(dimension.dxf.dimstyle)
        measured = dimension.get_measurement()
        if dimension.dimtype == 6:
            value = measured.x if dimension.dxf.dimtype & 64 else measured.y
            told.append(("ordinate", abs(value) * style.dxf.dimlfac, ""))
        else:
            told.append(("linear", measured * style.dxf.dimlfac, dimension.dxf.text.removeprefix("<> ")))
        written = [text.dxf.text for text in dimension.get_geometry_block().query("TEXT")]
        assert float(written[0].split()[0]) == pytest.approx(told[-1][1], abs=0.005)
        assert style.dxf.dimtxt * style.dxf.dimscale == pytest.approx(
            dimension.get_geometry_block().query("TEXT").first.dxf.height
        )
    assert [(kind, tolerance) for kind, _, tolerance in told] == [(kind, t) for kind, _, t in wanted]
    assert [value for _, value, _ in told] == pytest.approx([value for _, value, _ in wanted], abs=1e-9)


def test_hatches_bound_their_faces_with_true_arcs_and_neighbours_differ(document: Drawing):
    hatches = [h for h in document.modelspace().query("HATCH") if h.dxf.layer == layer_name("hatch")]
    faces = [(cut, placed) for sheet in SHEETS for placed in sheet.views for cut in placed.view.cuts]
    assert len(hatches) == len(faces)
    scales = {id(placed): placed.scale / sheet.scale for sheet in SHEETS for placed in sheet.views}
    for hatch, (cut, placed) in zip(hatches, faces, strict=True):
        assert isinstance(hatch, Hatch)
        k = scales[id(placed)]
        for path, loop in zip(hatch.paths, cut.region, strict=True):
            assert sum(map(edge_area, path.edges)) == pytest.approx(k * k * loop_area(loop), abs=1e-6)
            assert sum(isinstance(e, ArcEdge) for e in path.edges) == sum(isinstance(s, Arc) for s in loop)
    body, cover, cord = hatches[:3]
    assert {line.angle % 180 for line in body.pattern.lines} != {
        line.angle % 180 for line in cover.pattern.lines
    }
    # A cord 4 mm wide on the paper is hatched crosswise; one of 2 mm is filled.
    assert len(cord.pattern.lines) == 2
    assert hatches[5].dxf.solid_fill


def edge_area(edge: ArcEdge | LineEdge) -> float:
    """Return what a piece adds to its outline's area by Green's theorem."""
    if isinstance(edge, LineEdge):
        (ax, ay), (bx, by) = edge.start, edge.end
        return (ax * by - bx * ay) / 2
    a, b = math.radians(edge.start_angle), math.radians(edge.end_angle)
    r, (cx, cy) = edge.radius, edge.center
    swept = (
        r * r * (b - a) + r * cx * (math.sin(b) - math.sin(a)) - r * cy * (math.cos(b) - math.cos(a))
    ) / 2
    return swept if edge.ccw else -swept


def test_letters_of_the_model_space_are_those_of_the_sheets(document: Drawing):
    space = document.modelspace()
    texts = [
        *space.query("TEXT"),
        *(t for d in space.query("DIMENSION") for t in d.get_geometry_block().query("TEXT")),
    ]
    wanted = sorted(
        (label.text, round(label.height / s.scale, 6)) for s in SHEETS for label in sheet_labels(s)
    )
    assert sorted((text.dxf.text, round(text.dxf.height, 6)) for text in texts) == wanted
    assert {document.styles.get(text.dxf.style).dxf.font for text in texts if isinstance(text, Text)} == {
        "DejaVuSans.ttf",
        "DejaVuSans-Bold.ttf",
    }


@pytest.mark.published(source="ISO 128-2:2020, line group 0.5: wide lines 0.5 mm, narrow lines 0.25 mm")
def test_layers_have_the_line_widths_of_the_standard(document: Drawing):
    widths = {style: document.layers.get(layer_name(style)).dxf.lineweight for style in PENS}
    assert widths["visible"] == widths["cut"] == 50
    assert {widths[style] for style in ("centre", "thread", "thin")} == {25}
    assert document.layers.get("CENTRE").dxf.linetype != "CONTINUOUS"


@pytest.mark.published(source="ISO 128-2:2020, table 1 and annex: long dash 24 d, gap 3 d, dot 0.5 d")
def test_dashes_have_the_lengths_of_the_standard(document: Drawing):
    def pattern(style: str) -> list[float]:
        name = document.layers.get(style).dxf.linetype
        return list(document.linetypes.get(name).simplified_line_pattern())

    assert pattern("CENTRE") == pytest.approx([24 * 0.25, 3 * 0.25, 0.5 * 0.25, 3 * 0.25])
    assert pattern("CUT") == pytest.approx([24 * 0.5, 3 * 0.5, 0.5 * 0.5, 3 * 0.5])


def test_each_sheet_has_a_layout_with_its_part_of_the_model(document: Drawing):
    names = [name for name in document.layout_names_in_taborder() if name != "Model"]
    assert names == ["Sheet 1", "Sheet 2"]
    for name, sheet, (x0, x1) in zip(names, SHEETS, sheet_ranges(), strict=True):
        layout = document.paperspace(name)
        assert (layout.dxf.paper_width, layout.dxf.paper_height) == sheet.size
        (view,) = [v for v in layout.query("VIEWPORT") if v.dxf.id != 1]
        assert view.dxf.view_center_point.x == pytest.approx((x0 + x1) / 2)
        assert view.dxf.view_height * sheet.scale == pytest.approx(view.dxf.height) == sheet.size[1]


def test_same_drawing_same_bytes_anywhere(files: Path, tmp_path: Path):
    code = (
        "import sys; from pathlib import Path\n"
        "from sample_drawing import small_drawing\n"
        "from exports.drawing.dxf_document import build_document, write_drawing_dxf\n"
        "from exports.drawing.pdf_pages import write_drawing_pdf\n"
        "drawn, folder = build_document(small_drawing()), Path(sys.argv[1])\n"
        "write_drawing_pdf(folder / 'drawing.pdf', drawn)\n"
        "write_drawing_dxf(folder / 'drawing.dxf', drawn)\n"
    )
    root = Path(__file__).parents[2]
    place = {
        **os.environ,
        "TZ": "Pacific/Auckland",
        "PYTHONHASHSEED": "12345",
        "PYTHONPATH": f"{root}{os.pathsep}{root / 'tests'}",
    }
    subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=True, env=place, cwd=root, timeout=120)
    for name in ("drawing.dxf", "drawing.pdf"):
        assert (tmp_path / name).read_bytes() == (files / name).read_bytes()


@dataclass(frozen=True, slots=True)
class Word:
    """A word as poppler finds it: its page, its box in mm from the page's lower left corner."""

    page: int
    text: str
    x0: float
    y0: float
    x1: float
    y1: float


def words_of(path: Path) -> Iterator[Word]:
    told = subprocess.run(["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True)
    page, height = 0, 0.0
    for line in told.stdout.splitlines():
        if found := re.search(r'<page width="([\d.]+)" height="([\d.]+)"', line):
            page, height = page + 1, float(found[2])
        elif found := re.search(r'xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*)</word>', line):
            x0, y0, x1, y1 = (float(found[k]) for k in range(1, 5))
            yield Word(page, found[5], x0 / MM, (height - y1) / MM, x1 / MM, (height - y0) / MM)


def box_of_label(label: Label) -> tuple[float, float, float, float]:
    """Return the box between a label's start and end, the face's ascent and its descent, [mm]."""
    width = text_width(label.text, label.height, label.bold)
    first = {"left": 0.0, "middle": -width / 2, "right": -width}[label.anchor]
    size = label.height / CAPITALS
    corners = [(first, DESCENT * size), (first + width, ASCENT * size)]
    if label.turned == 90.0:
        corners = [(-v, u) for u, v in corners]
    xs, ys = zip(*corners, strict=True)
    return label.at[0] + min(xs), label.at[1] + min(ys), label.at[0] + max(xs), label.at[1] + max(ys)


@pytest.mark.needs("pdftotext")
def test_letters_stand_in_the_pdf_where_the_sheets_put_them(files: Path):
    words = list(words_of(files / "drawing.pdf"))
    assert words
    for sheet in SHEETS:
        for label in sheet_labels(sheet):
            x0, y0, x1, y1 = box_of_label(label)
            inside = [
                word
                for word in words
                if word.page == sheet.number
                and x0 - 0.3 < word.x0 < word.x1 < x1 + 0.3
                and y0 - 0.3 < word.y0 < word.y1 < y1 + 0.3
            ]
            order = (lambda w: w.y0) if label.turned else (lambda w: w.x0)
            assert [w.text for w in sorted(inside, key=order)] == label.text.split(), label
            reach = [(w.y0, w.y1) if label.turned else (w.x0, w.x1) for w in inside]
            start, end = (y0, y1) if label.turned else (x0, x1)
            assert min(a for a, _ in reach) == pytest.approx(start, abs=0.3)
            assert max(b for _, b in reach) == pytest.approx(end, abs=0.3)


@pytest.mark.needs("pdffonts")
def test_all_fonts_are_bundled_and_searchable(files: Path):
    told = subprocess.run(
        ["pdffonts", str(files / "drawing.pdf")], capture_output=True, text=True, check=True
    )
    rows = [row.split() for row in told.stdout.splitlines()[2:]]
    assert {row[0].partition("+")[2] for row in rows} == {"DejaVuSans", "DejaVuSans-Bold"}
    # Embedded, a subset, with a table to Unicode.
    assert all(row[-5:-2] == ["yes", "yes", "yes"] for row in rows)


@pytest.mark.needs("pdfinfo")
@pytest.mark.published(source="ISO 216:2007 table 1: A3 297 mm x 420 mm, A4 210 mm x 297 mm")
def test_pages_are_of_true_size_and_tell_no_date(files: Path):
    command = ["pdfinfo", "-f", "1", "-l", "2", str(files / "drawing.pdf")]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    sizes = re.findall(r"Page +\d+ size: +([\d.]+) x ([\d.]+)", told)
    assert [(float(w) / MM, float(h) / MM) for w, h in sizes] == [
        pytest.approx((420.0, 297.0), abs=0.01),
        pytest.approx((297.0, 210.0), abs=0.01),
    ]
    assert re.search(r"Title: +workshop\n", told)
    assert "Date" not in told


DOTS = 254
"""Resolution at which a page is looked at, [1/inch]: ten dots a millimetre."""


@pytest.mark.needs("pdftoppm")
def test_arcs_are_drawn_round_and_open(files: Path, tmp_path: Path):
    """On the picture of the page: ink on every arc and line of a view, none on the chord or inside a circle."""
    command = ["pdftoppm", "-r", str(DOTS), "-f", "1", "-l", "1", "-gray", str(files / "drawing.pdf")]
    subprocess.run([*command, str(tmp_path / "page")], check=True)
    (picture,) = tmp_path.glob("page*.pgm")
    head, size, depth, dots = picture.read_bytes().split(b"\n", 3)
    assert (head, depth) == (b"P5", b"255")
    wide, tall = map(int, size.split())

    def ink(x: float, y: float) -> bool:
        """Return whether any dot within 0.1 mm of a point of the paper is dark."""
        col, row = round(10 * x), tall - round(10 * y)
        near = [dots[(row + j) * wide + col + i] for i in (-1, 0, 1) for j in (-1, 0, 1)]
        return min(near) < 128

    placed = SHEETS[0].views[0]

    def on_paper(p: tuple[float, float]) -> tuple[float, float]:
        return placed.corner[0] + 0.5 * p[0], placed.corner[1] + 0.5 * p[1]

    for line in placed.view.lines:
        s = line.segment
        if line.style != "visible":
            continue
        for k in range(11):
            if isinstance(s, Line):
                at = tuple(a + (b - a) * k / 10 for a, b in zip(s.start, s.end, strict=True))
            else:
                at = s.at(k / 10)
            assert ink(*on_paper((at[0], at[1]))), line
        if isinstance(s, Arc):
            (ax, ay), (bx, by) = s.start, s.end
            chord = s.centre if abs(s.sweep) > 6 else ((ax + bx) / 2, (ay + by) / 2)
            assert not ink(*on_paper(chord)), line
            if abs(s.sweep) < 6:
                rest = Arc(s.centre, s.radius, s.first + s.sweep, 2 * math.pi - s.sweep)
                assert not ink(*on_paper(rest.at(0.5))), line
    dashes = placed.view.lines[-2].segment
    assert isinstance(dashes, Arc)
    drawn = [ink(*on_paper(dashes.at(k / 400))) for k in range(401)]
    # 80 mm of arc at 1:2 holds five long dashes of 6 mm and as many dots, a gap of 0.75 mm behind each.
    gaps = sum(1 for a, b in pairwise(drawn) if a and not b)
    assert 8 <= gaps <= 12


def test_licence_of_the_faces_is_the_whole_text_that_they_carry():
    """Name record 13 of a face is its licence: here those of both makers of its glyphs."""
    licence = " ".join((FOLDER / "LICENSE").read_text(encoding="utf-8").split())
    assert "Bitstream Vera Fonts Copyright" in licence
    assert "Arev Fonts Copyright" in licence
    for name in (PLAIN, BOLD):
        told = TTFont(FOLDER / f"{name}.ttf")["name"].getDebugName(13)
        assert " ".join(told.split()) in licence
