"""The papers of a run as a set: which are written, kept or dropped, and that they say the same as the report."""

from __future__ import annotations

import csv
import hashlib
import html
import json
import math
import re
import shutil
import subprocess
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from sample_failure import sample_failure
from sample_plan import fault, sample_plan

from exports.check_solids import Checked
from exports.doctor import PACKAGES
from exports.writing import REPORT_NAME, earlier_files
from exports.written_files import write_failure, write_made
from geom.standards import tables
from layouts.cost.quantities import cost_sheet
from layouts.plan import Plan

PAPERS = {"drawing.pdf", "drawing.dxf", "sheets.pdf", "parts.csv"}
"""What only a panel without faults has; the report as a page every run has."""

PAGE = "report.html"

NUMBER = re.compile(r"[A-Z]+\d+")
"""Of a hole: stands beside it and in its table."""

PLACE = re.compile(r"-?\d+(?:\.\d{1,2})?")
"""A coordinate in a table."""

CHANNEL = "C"
"""Channels have numbers and a table of their own."""

ORDINATE = 6
"""Type of a DXF dimension."""


def names_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def bytes_in(folder: Path, names: set[str]) -> dict[str, bytes]:
    return {name: (folder / name).read_bytes() for name in names}


def report_in(folder: Path) -> dict[str, Any]:
    return json.loads((folder / REPORT_NAME).read_bytes())


def listed(folder: Path, key: str = "files") -> dict[str, str]:
    return {record["name"]: record["sha256"] for record in report_in(folder)[key]}


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.fixture(scope="module")
def sampled(plan: Plan, checked: Checked, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the small sample's files: it has cords and screws."""
    folder = tmp_path_factory.mktemp("sampled")
    write_made(plan, checked, (), cost_sheet(plan), folder)
    return folder


@pytest.fixture
def good(sampled: Path, tmp_path: Path) -> Path:
    """A folder of its own with a good run's files."""
    return shutil.copytree(sampled, tmp_path / "out")


class TestWhichAreWritten:
    """With and without faults, beside what an earlier run left."""

    def test_a_good_run_writes_all_and_lists_them(self, good: Path):
        assert PAPERS | {PAGE} <= names_in(good)
        for name, sha256 in listed(good).items():
            assert digest(good / name) == sha256, name
        assert PAPERS | {PAGE} <= listed(good).keys()

    def test_what_each_is_stands_in_the_report(self, good: Path):
        said = {record["name"]: record["what"] for record in report_in(good)["files"]}
        assert all(len(said[name]) > 15 for name in PAPERS | {PAGE})

    def test_the_page_names_all_files_of_the_run(self, good: Path):
        page = (good / PAGE).read_text(encoding="utf-8")
        for name in (*listed(good), REPORT_NAME):
            if name != PAGE:
                assert name in page, name

    def test_a_fault_of_the_plan_leaves_only_the_page(self, tmp_path: Path):
        plan = sample_plan((fault(),))
        write_made(plan, None, plan.findings, cost_sheet(plan), tmp_path)
        assert names_in(tmp_path) & (PAPERS | {PAGE}) == {PAGE}
        assert listed(tmp_path)[PAGE] == digest(tmp_path / PAGE)

    def test_a_fault_of_the_solids_leaves_only_the_page(self, plan: Plan, checked: Checked, tmp_path: Path):
        write_made(plan, checked, (fault("wall.thin"),), cost_sheet(plan), tmp_path)
        assert names_in(tmp_path) & (PAPERS | {PAGE}) == {PAGE}
        # The page alone shows the panel: nobody shall take the picture for a good panel's.
        assert "panel.svg" not in names_in(tmp_path)
        page = (tmp_path / PAGE).read_text(encoding="utf-8")
        assert page.split('<figure class="picture projection">')[1].lstrip().startswith('<div class="wide"')
        assert "panel.svg" not in page

    def test_without_a_layout_there_is_the_page(self, tmp_path: Path):
        write_failure(sample_failure(), tmp_path)
        assert names_in(tmp_path) & (PAPERS | {PAGE}) == {PAGE}
        assert listed(tmp_path)[PAGE] == digest(tmp_path / PAGE)

    @pytest.mark.parametrize("how", ["plan", "solids", "no layout"])
    def test_a_bad_run_leaves_the_papers_of_the_good_one_and_says_so(
        self, good: Path, plan: Plan, checked: Checked, how: str
    ):
        before, page = bytes_in(good, PAPERS), (good / PAGE).read_bytes()
        if how == "no layout":
            write_failure(sample_failure(), good)
        else:
            found = (fault(),) if how == "plan" else (fault("wall.thin"),)
            write_made(plan, None if how == "plan" else checked, found, cost_sheet(plan), good)
        assert bytes_in(good, PAPERS) == before
        assert "do not work from them" in (good / PAGE).read_text(encoding="utf-8")
        assert (good / PAGE).read_bytes() != page
        assert listed(good, "earlier_files").keys() >= PAPERS
        assert PAGE not in listed(good, "earlier_files")
        assert {record.name for record in earlier_files(good)} >= PAPERS

    def test_the_next_good_run_takes_the_old_papers_away_with_what_it_writes_no_more(
        self, good: Path, plan: Plan, checked: Checked
    ):
        record = report_in(good)
        (good / "drawing-old.pdf").write_bytes(b"of an older version")
        record["files"].append(
            {"name": "drawing-old.pdf", "what": "drawing", "sha256": digest(good / "drawing-old.pdf")}
        )
        (good / REPORT_NAME).write_text(json.dumps(record), encoding="utf-8")
        write_made(plan, checked, (fault("wall.thin"),), cost_sheet(plan), good)
        assert "drawing-old.pdf" in names_in(good)
        write_made(plan, checked, (), cost_sheet(plan), good)
        assert "drawing-old.pdf" not in names_in(good)
        assert names_in(good) >= PAPERS
        assert listed(good, "earlier_files") == {}

    def test_papers_filled_in_by_hand_are_replaced_by_a_good_run_only(
        self, good: Path, plan: Plan, checked: Checked
    ):
        """A ticked and signed sheet under the run's own name is the run's: whoever keeps it gives it another name."""
        (good / "sheets.pdf").write_bytes(b"ticked")
        write_made(plan, checked, (fault("wall.thin"),), cost_sheet(plan), good)
        assert (good / "sheets.pdf").read_bytes() == b"ticked"
        assert "sheets.pdf" not in listed(good, "earlier_files")
        write_made(plan, checked, (), cost_sheet(plan), good)
        assert (good / "sheets.pdf").read_bytes() != b"ticked"


class TestBytes:
    """Same file, same bytes, in processes with other hash seeds and time zones."""

    @pytest.mark.parametrize("name", sorted(PAPERS | {PAGE}))
    def test_the_same_in_two_processes(self, twice, name: str):
        assert (twice.first / name).read_bytes() == (twice.second / name).read_bytes()

    def test_the_report_lists_them(self, twice):
        for name in PAPERS | {PAGE}:
            assert listed(twice.first)[name] == digest(twice.first / name)

    @pytest.mark.parametrize("name", ["drawing.pdf", "sheets.pdf"])
    def test_no_date_and_no_name_of_the_machine(self, twice, name: str):
        data = (twice.first / name).read_bytes()
        assert b"CreationDate" not in data
        assert b"ModDate" not in data
        assert str(Path.home()).encode() not in data
        assert str(twice.first).encode() not in data

    def test_the_page_names_no_folder_of_the_machine(self, twice):
        page = (twice.first / PAGE).read_text(encoding="utf-8")
        assert str(twice.first.parent) not in page

    def test_reportlab_and_jinja_are_looked_for(self):
        assert {"reportlab", "Jinja2", "ezdxf"} <= set(PACKAGES)


def text_of(path: Path) -> str:
    """Return the text of a PDF as poppler reads it."""
    return subprocess.run(
        ["pdftotext", "-layout", str(path), "-"], capture_output=True, text=True, check=True
    ).stdout


@pytest.mark.needs("pdftotext")
class TestText:
    """What poppler reads from the PDF files."""

    @pytest.mark.parametrize("name", ["drawing.pdf", "sheets.pdf"])
    def test_panel_and_file_are_named_on_it(self, twice, name: str):
        text, report = text_of(twice.first / name), report_in(twice.first)
        assert report["panel"]["name"] in text
        assert report["panel"]["sha256"][:8] in text

    def test_every_port_s_thread_stands_on_the_drawing(self, twice):
        text = text_of(twice.first / "drawing.pdf")
        for thread in {port["thread"] for port in report_in(twice.first)["ports"]}:
            assert thread in text

    def test_every_finding_s_remedy_and_caution_stands_on_the_page(self, twice):
        page = html.unescape((twice.first / PAGE).read_text(encoding="utf-8"))
        report = report_in(twice.first)
        assert report["findings"]
        for found in report["findings"]:
            assert found["code"] in page
            assert found["text"] in page
            assert found["remedy"] in page
        for caution in report["cautions"]:
            assert caution in page

    def test_numbers_of_the_sheets_are_those_of_the_report(self, twice):
        text, report = " ".join(text_of(twice.first / "sheets.pdf").split()), report_in(twice.first)
        total = report["filling"]["sequence"]["total_ml"]
        assert re.search(rf"\b{total:.0f} mL goes in", text), total
        test = report["leak_test"]
        alone, whole = test["air"]
        assert re.search(rf"air shut in\W+{alone['air_ml']:.1f} mL\W+{whole['air_ml']:.0f} mL", text)
        for letter, one in zip("AB", test["air"], strict=True):
            assert f"{letter}5 Do not touch it for {one['hold_min']} min" in text
            assert f"{one['allowed_mbar']:.0f} mbar or less" in text
        assert f"Raise it slowly to {test['water_bar']:g} bar" in text
        assert f'At "{test["gauge_port"]}"' in text


@dataclass(frozen=True)
class HoleLine:
    """A line of a hole table as it is read: number, what it is, and its two coordinates, [mm]."""

    number: str
    what: str
    u: float
    v: float


@dataclass(frozen=True)
class Word:
    """A word or a whole text with the start of its baseline."""

    text: str
    x: float
    y: float


def read_lines(words: list[Word]) -> tuple[list[HoleLine], list[Word]]:
    """Return the lines of hole tables among words, and the numbers of holes that stand elsewhere.

    A line starts with a hole's number and has two numbers in a row; numbers on one height belong to one line.
    """
    lines, tags = [], []
    for word in words:
        if not NUMBER.fullmatch(word.text) or word.text.startswith(CHANNEL):
            continue
        row = sorted((w for w in words if abs(w.y - word.y) < 0.1 and w.x > word.x), key=lambda w: w.x)
        at = next(
            (k for k, pair in enumerate(pairwise(row)) if all(PLACE.fullmatch(w.text) for w in pair)), None
        )
        if at is None or any(NUMBER.fullmatch(w.text) for w in row[:at]):
            tags.append(word)
        else:
            what = " ".join(w.text for w in row[:at])
            lines.append(HoleLine(word.text, what, float(row[at].text), float(row[at + 1].text)))
    return lines, tags


def read_dxf(path: Path) -> tuple[list[Word], list[tuple[float, float]], list[tuple[float, float, float]]]:
    """Return texts, the origins of ordinate dimensions, and circles (centre and radius) of a drawing."""
    space = ezdxf.readfile(path).modelspace()
    words = [Word(e.dxf.text, e.dxf.insert.x, e.dxf.insert.y) for e in space.query("TEXT")]
    origins = {
        (round(e.dxf.defpoint.x, 4), round(e.dxf.defpoint.y, 4))
        for e in space.query("DIMENSION")
        if e.dxf.dimtype & 15 == ORDINATE
    }
    circles = [(e.dxf.center.x, e.dxf.center.y, e.dxf.radius) for e in space.query("CIRCLE")]
    return words, sorted(origins), circles


@pytest.fixture(params=["laser driver", "sample"])
def made(request: pytest.FixtureRequest) -> Path:
    return (
        request.getfixturevalue("twice").first
        if request.param == "laser driver"
        else request.getfixturevalue("sampled")
    )


class TestHoles:
    """Hole tables, circles on the drawing, and the report's coordinates, each read back by itself."""

    def test_every_line_of_a_table_has_its_circle_at_its_place(self, made: Path):
        words, origins, circles = read_dxf(made / "drawing.dxf")
        lines, _ = read_lines(words)
        assert len(lines) > 5
        for line in lines:
            # A coordinate is told to a hundredth.
            met = [
                (ox, oy)
                for ox, oy in origins
                for cx, cy, _ in circles
                # The view of an edge may be turned: its corner of origin is another one then.
                for across, up in ((abs(cx - ox), abs(cy - oy)), (abs(cy - oy), abs(cx - ox)))
                if abs(across - line.u) < 0.0051 and abs(up - line.v) < 0.0051
            ]
            assert met, line

    def test_every_number_stands_beside_its_hole_and_in_its_table(self, made: Path):
        lines, tags = read_lines(read_dxf(made / "drawing.dxf")[0])
        numbers = [line.number for line in lines]
        assert len(numbers) == len(set(numbers))
        assert set(numbers) <= {tag.text for tag in tags}

    def test_ports_are_where_the_report_says(self, made: Path):
        report = report_in(made)
        lines, _ = read_lines(read_dxf(made / "drawing.dxf")[0])
        width, height = report["panel"]["size_mm"]
        for port in report["ports"]:
            x, y, z = port["at_mm"]
            # Edges count from the joint, which is z = 0, and from their left end seen from outside, front up.
            expected = {
                "front": (x, y),
                "back": (width - x, y),
                "top": (width - x, z),
                "bottom": (x, z),
                "left": (height - y, z),
                "right": (y, z),
            }[port["on"]]
            (told,) = [line for line in lines if f" {port['name']} " in f" {line.what} "]
            assert math.dist((told.u, told.v), expected) < 0.0072, (told, port)
        (inlet,) = [line for line in lines if line.what == "pump inlet bore"]
        assert [inlet.u, inlet.v] == report["pump"]["at_mm"]

    def test_cover_screws_are_where_the_report_says(self, sampled: Path):
        report = report_in(sampled)
        width = report["panel"]["size_mm"][0]
        lines, _ = read_lines(read_dxf(sampled / "drawing.dxf")[0])
        places = {(round(line.u, 2), round(line.v, 2)) for line in lines}
        assert report["panel"]["screws_mm"]
        for x, y in report["panel"]["screws_mm"]:
            # Seen from the back, where the cover lies.
            assert (round(width - x, 2), round(y, 2)) in places

    def test_circles_are_as_wide_as_the_thread_s_drill(self, made: Path):
        report = report_in(made)
        _, origins, circles = read_dxf(made / "drawing.dxf")
        for port in report["ports"]:
            if port["on"] != "front":
                continue
            x, y, _ = port["at_mm"]
            radii = {
                round(radius, 3)
                for ox, oy in origins
                for cx, cy, radius in circles
                if math.dist((cx - ox, cy - oy), (x, y)) < 1e-3
            }
            assert round(tables.thread(port["thread"]).tap_drill / 2, 3) in radii

    @pytest.mark.needs("pdftotext")
    def test_the_pdf_says_the_same_as_the_dxf(self, made: Path):
        """Poppler's words with their places: each table line with number and coordinates, each number twice."""
        lines, _ = read_lines(read_dxf(made / "drawing.dxf")[0])
        read, tags = [], []
        for words in pdf_pages(made / "drawing.pdf"):
            there, loose = read_lines(words)
            read += there
            tags += loose
        key = [(line.number, line.u, line.v) for line in lines]
        assert sorted(key) == sorted((line.number, line.u, line.v) for line in read)
        assert {line.number for line in lines} <= {tag.text for tag in tags}


def pdf_pages(path: Path) -> list[list[Word]]:
    """Return the words of each page of a PDF with their places, [pt], as poppler reads them."""
    said = subprocess.run(["pdftotext", "-bbox", str(path), "-"], capture_output=True, text=True, check=True)
    pages = []
    for page in re.split(r"<page ", said.stdout)[1:]:
        found = re.findall(r'<word xMin="([\d.]+)"[^>]*yMax="([\d.]+)">([^<]*)</word>', page)
        pages.append([Word(html.unescape(text), float(x), float(y)) for x, y, text in found])
    return pages


class TestParts:
    """The parts list against the report's cost sheet, which counts by itself."""

    def test_counts_agree_with_the_cost_sheet(self, twice):
        with (twice.first / "parts.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        items = {item["item"]: item for item in report_in(twice.first)["cost"]["items"]}
        fittings = [name for name in items if name.startswith("fittings ")]
        assert fittings
        for name in fittings:
            thread = name.removeprefix("fittings ")
            kinds = ("fitting", "plug", "vented plug")
            counts = [
                int(row["count"]) for row in rows if row["item"] in kinds and row["size"].startswith(thread)
            ]
            assert sum(counts) == items[name]["quantity"]
        (coolant,) = [row for row in rows if row["item"].startswith("coolant")]
        assert float(coolant["count"]) == items["coolant"]["quantity"]
        weights = {row["item"]: row["note"] for row in rows if "weighs" in row["note"]}
        for part in ("body", "cover"):
            assert f"weighs {items[f'finished {part}']['quantity']:.3f} kg" in weights[part]
