"""The work sheets: the plan's numbers, all of them in the PDF, nothing lost, the same bytes each time."""

from __future__ import annotations

import re
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from sample_checked import unbuilt_check
from sample_demos import plan_demo

from exports.sheets.assembly_sheet import assembly_sheet
from exports.sheets.caution_sheet import ACRYLIC, AIR, CEMENTS, CHIPS, CODES, HOT, METALS, POWER, find_caution
from exports.sheets.flowables import belongs_to
from exports.sheets.list_sheets import list_sheets
from exports.sheets.matters import BY_START, begins, list_matters, room_of
from exports.sheets.sign_sheet import sign_sheet
from exports.sheets.values import (
    Blank,
    Caution,
    Grid,
    Heading,
    Matter,
    Say,
    Schematic,
    Small,
    Step,
    WorkSheet,
    number_steps,
    number_through,
)
from exports.sheets.whole import write_pages, write_sheets
from exports.tables.cost_tables import as_text
from exports.wording.hole_numbers import hole_numbers, list_numbers_of, port_numbers, screw_numbers
from geom.findings import Finding
from geom.standards import tables
from geom.units import mbar, show_ml
from layouts.closing.gland import cut_length
from layouts.cost.quantities import cost_sheet
from layouts.leak_test import plan_leak_test
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan
from layouts.rules.catalogue import RULES
from layouts.rules.cautions import CAUTIONS, list_cautions
from layouts.strength.fastening import fasten_plan
from layouts.strength.tightening_order import order_screws

DEMOS = demo_names()
MOST_PAGES = 18


def sheets_of(name: str) -> tuple[WorkSheet, ...]:
    plan = plan_demo(name)
    return list_sheets(plan, unbuilt_check(plan), plan.findings, cost_sheet(plan))


def write(path: Path, plan: Plan) -> Path:
    write_sheets(path, plan, unbuilt_check(plan), plan.findings, cost_sheet(plan))
    return path


def read_pdf(path: Path, *more: str) -> str:
    done = subprocess.run(["pdftotext", *more, str(path), "-"], capture_output=True, text=True, check=True)
    return done.stdout


def texts_of(sheet: WorkSheet) -> list[str]:
    """Return all that a sheet says, figures aside."""
    said = [sheet.title]
    for block in sheet.blocks:
        match block:
            case Heading(text) | Say(text) | Small(text) | Caution(text):
                said.append(text)
            case Matter(lead, text):
                said += [lead, text]
            case Step(text, readings, number):
                said += [text, *readings, number]
            case Grid(head, rows, _, _, blanks):
                said += [*head, *blanks, *(cell for row in rows for cell in row)]
            case Schematic(_, _, caption):
                said.append(caption)
            case Blank(labels):
                said += labels
    return [text for text in said if text]


def squeeze(text: str) -> str:
    """Return a text without white space: where lines are broken no longer matters."""
    return re.sub(r"\s+", "", text)


@pytest.mark.needs("pdftotext")
@pytest.mark.parametrize("name", DEMOS)
def test_all_that_a_sheet_says_stands_in_the_pdf_on_few_pages(name, tmp_path):
    path = write(tmp_path / "sheets.pdf", plan_demo(name))
    pages = read_pdf(path).split("\f")[:-1]
    assert 8 <= len(pages) <= MOST_PAGES
    whole = squeeze("".join(pages))
    words = set(re.findall(r"\S+", "".join(pages)))
    for sheet in sheets_of(name):
        for text in texts_of(sheet):
            # A paragraph that runs on over a page has the page's edges within it; its words are all there.
            assert squeeze(text) in whole or set(text.split()) <= words, text
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        assert plan_demo(name).panel.sha256[:12] in page


@pytest.mark.needs("pdftotext")
@pytest.mark.parametrize("name", ["workshop-render", "laser-driver"])
def test_no_letter_lies_outside_the_margins(name, tmp_path):
    path = write(tmp_path / "sheets.pdf", plan_demo(name))
    boxes = re.findall(
        r'<word xMin="([\d.]+)" yMin="([\d.]+)" xMax="([\d.]+)" yMax="([\d.]+)"', read_pdf(path, "-bbox")
    )
    assert len(boxes) > 2000
    for x0, y0, x1, y1 in (map(float, box) for box in boxes):
        assert 40.0 <= x0 <= x1 <= 555.0
        assert 20.0 <= y0 <= y1 <= 825.0


@pytest.mark.parametrize("name", ["observatory-camera", "synthesizer-rack"])
def test_same_plan_same_bytes(name, tmp_path):
    first, second = (write(tmp_path / f"{k}.pdf", plan_demo(name)).read_bytes() for k in "ab")
    assert first == second
    assert b"/Lang" in first
    assert b"Date" not in first


@pytest.mark.needs("pdftotext")
@pytest.mark.parametrize(
    "given", ["W" * 60, 'Kühl <b>&amp; Ω</b> ± µ "quoted" ½ 試験 =1+1', "a" * 30 + " " + "/" * 29]
)
def test_odd_and_long_names_are_written_whole_and_harm_nothing(given, tmp_path):
    plan = plan_demo("laser-driver")
    panel = replace(
        plan.panel, name=given, parts=(replace(plan.panel.parts[0], name=given), *plan.panel.parts[1:])
    )
    path = write(tmp_path / "sheets.pdf", replace(plan, panel=panel))
    text = squeeze(read_pdf(path))
    seen = squeeze(given.replace("試験", "[U+8A66][U+9A13]"))
    assert seen in text
    assert not set("試験") & set(text)
    boxes = re.findall(r'xMin="([\d.]+)" yMin="[\d.]+" xMax="([\d.]+)"', read_pdf(path, "-bbox"))
    assert max(float(x1) for _, x1 in boxes) <= 556.0


@pytest.mark.parametrize("name", DEMOS)
def test_screws_cords_and_ports_are_those_of_the_plan(name):
    plan = plan_demo(name)
    sheet = next(sheet for sheet in sheets_of(name) if sheet.title == "Assembly")
    said = " ".join(texts_of(sheet))
    for one in fasten_plan(plan):
        screws = plan.sealed.screws_of(one.layer)
        own = screw_numbers(plan, one.layer)
        numbers = ", ".join(own[k] for k in order_screws(screws))
        assert numbers in said
        assert f"all {len(screws)} screws {one.screw}" in said
        assert f"{one.preload_n:.0f} N" in said
    grids = [block for block in sheet.blocks if isinstance(block, Grid)]
    cords = [row for grid in grids if grid.head[0] == "cord" for row in grid.rows]
    assert [row[2] for row in cords] == [f"{loop.length:.0f} mm" for loop in plan.sealed.loops]
    for row, loop in zip(cords, plan.sealed.loops, strict=True):
        least, most = cut_length(loop, tables.cord(plan.panel.make.cord))
        told = [float(number) for number in re.findall(r"[\d.]+", row[3])]
        assert least <= told[0] <= told[-1] <= most
        assert most - told[-1] < 1.0
    ports = next(grid for grid in grids if grid.head[0] == "port").rows
    assert [row[:4] for row in ports] == [
        (number, p.name, p.thread, p.on)
        for number, p in zip(port_numbers(plan), plan.routed.ports, strict=True)
    ]
    assert [row[4] in ("plug", "vented plug") for row in ports] == [
        port.is_shut for port in plan.routed.ports
    ]
    assert [row[1] for row in ports if row[4] == "vented plug"] == [
        port.name for port in plan.routed.ports if port.role == "fill"
    ]
    kinds = [block.kind for block in sheet.blocks if isinstance(block, Schematic)]
    assert kinds.count("ports") == 1
    assert kinds.count("tightening") == len(fasten_plan(plan))
    assert kinds.count("clamps") == len(plan.sealed.lands)


@pytest.mark.parametrize("name", DEMOS)
def test_volumes_orders_and_limits_are_those_of_plan_and_leak_test(name):
    plan = plan_demo(name)
    checked = unbuilt_check(plan)
    test = plan_leak_test(plan, checked.volumes.wet_plan)
    by_title = {sheet.title: texts_of(sheet) for sheet in sheets_of(name)}
    leak, fill, drain = (by_title[t] for t in ("Leak test", "Fill, bleed, wet test", "Drain"))
    for one in test.air:
        assert any(f"{show_ml(one.volume_ml)} mL" in text for text in leak)
        assert any(f"for {one.hold_min} min" in text for text in leak)
        assert any(f"{mbar(one.allowed_pa):.0f} mbar or less" in text for text in leak)
    assert f"{mbar(test.pressure_pa):.0f} mbar" in " ".join(leak)
    assert plan.filling is not None
    for step in plan.filling.bleed_order:
        assert step.text in fill
    for step in plan.filling.drain_order:
        assert step.text in drain
    assert any(f"{show_ml(plan.filling.sequence.total_ml)} mL" in text for text in fill)
    making = " ".join(
        text for title, texts in by_title.items() if title.startswith("Making") for text in texts
    )
    for setup in () if plan.milled is None else plan.milled.setups:
        assert f"{setup.part}, {setup.face}" in making
    if plan.milled is not None:
        rows = sum(
            len(block.rows)
            for sheet in sheets_of(name)
            if sheet.title == "Making: milling"
            for block in sheet.blocks
            if isinstance(block, Grid)
        )
        assert rows == len(plan.milled.jobs)


@pytest.mark.parametrize("name", DEMOS)
def test_cautions_stand_on_one_sheet_and_where_the_work_is(name):
    by_title = {
        sheet.title: [b.text for b in sheet.blocks if isinstance(b, Caution)] for sheet in sheets_of(name)
    }
    panel = plan_demo(name).panel
    assert set(list_cautions(panel)) <= set(by_title["Cautions"])
    acrylic, bonded = panel.make.material.startswith("PMMA"), panel.make.closing == "bonded"
    assert any(text.startswith(ACRYLIC) for text in by_title["Cautions"]) == acrylic
    assert any(text.startswith(CEMENTS) for text in by_title["Cautions"]) == bonded
    assert len(list_cautions(panel)) == len(CAUTIONS) - (not acrylic) - (not bonded)
    power, air = find_caution(POWER).text, find_caution(AIR).text
    assert air in by_title["Leak test"]
    for title in ("Leak test", "Fill, bleed, wet test", "Drain"):
        assert power in by_title[title]
    assert any("compressed air" in text for text in by_title["Leak test"])
    assert any("cure as long" in text for text in by_title["Assembly"]) == bonded


def test_every_caution_that_is_asked_for_stands():
    for start in (POWER, AIR, ACRYLIC, CHIPS, CEMENTS, METALS, HOT, CODES):
        assert find_caution(start).text in CAUTIONS
    with pytest.raises(ValueError, match="no standing caution"):
        find_caution("Beware of the dog")


def test_each_code_has_its_sheet():
    rooms = {rule.code: room_of(rule.code) for rule in RULES}
    assert rooms["make.reach"] == rooms["tolerance.squeeze"] == "making"
    assert rooms["cover.bow"] == rooms["thread.depth"] == rooms["pump.screws"] == "assembly"
    assert rooms["air.left"] == "filling"
    assert rooms["drain.left"] == "draining"
    assert rooms["flow.fast"] == rooms["material.coolant"] == rooms["service.room"] == "filling"
    assert rooms["tube.none"] == "assembly"
    assert rooms["test.low"] == "testing"
    assert rooms["pump.flow"] == "cautions"
    # No code without a room, no room without a code.
    used = {max((s for s in BY_START if begins(code, s)), key=len) for code in rooms}
    assert used == set(BY_START)


def test_findings_are_boxed_noted_or_left_to_the_record():
    caution = Finding("air.left", "caution", "Air.", "Bleed.", "s")
    note = replace(caution, code="feed.first", severity="note")
    accepted = replace(note, accepted="done by hand")
    assert list_matters((caution, note, accepted), "filling") == [
        Caution("Air. Bleed."),
        Matter("feed.first", "Air. Bleed."),
    ]
    plan = plan_demo("laser-driver")
    record = sign_sheet(plan, plan_leak_test(plan), (caution, accepted))
    said = " ".join(texts_of(record))
    assert "done by hand" in said
    assert plan.panel.sha256 in said


def test_steps_are_numbered():
    steps = [Step("a"), Step("b", ("x",))]
    assert [step.number for step in number_steps(steps, "A")] == ["A1", "A2"]
    assert [step.number for step in number_steps(steps, "W", first=0)] == ["W0", "W1"]
    through = number_through([Heading("h"), steps[0], Say("s"), steps[1]])
    assert [block.number for block in through if isinstance(block, Step)] == ["1", "2"]
    assert as_text("=1") == "'=1"


def test_numbers_of_features_are_drawn_together():
    numbers = {"a": "P1", "b": "P3", "c": "S10", "d": "S9", "e": "S11", "f": "P4"}
    assert list_numbers_of("abcdefx", numbers) == "P1, P3, P4, S9 to S11"
    plan = plan_demo("workshop-render")
    making = next(sheet for sheet in sheets_of("workshop-render") if sheet.title == "Making: milling")
    count = len(plan.sealed.screws_of("back"))
    assert f"{count} clearance holes S1 to S{count}" in texts_of(making)
    for layer in ("back", "front"):
        plan = plan_demo("observatory-camera")
        held = hole_numbers(plan).values()
        assert set(screw_numbers(plan, layer)) <= set(held)


@pytest.mark.needs("pdftotext")
def test_what_belongs_together_stands_on_one_page(tmp_path):
    for name in ("workshop-render", "laser-driver"):
        pages = read_pdf(write(tmp_path / f"{name}.pdf", plan_demo(name)), "-layout").split("\f")[:-1]
        for page in pages:
            if "Making: milling" in page:
                assert page.count("Before it is unclamped") == page.count("Set-up ")
            assert ("Pump and plugs" in page) == ("Ports with their numbers" in page)


@pytest.mark.needs("pdftotext")
@pytest.mark.parametrize("name", DEMOS)
def test_no_leak_test_has_a_last_page_of_a_few_lines(name, tmp_path):
    pages = read_pdf(write(tmp_path / "sheets.pdf", plan_demo(name)), "-layout").split("\f")[:-1]
    for title, most in (("Leak test", 2), ("Cautions", 1)):
        assert sum(title in page.splitlines()[0] for page in pages) == most


def test_a_short_table_stays_with_the_step_after_it():
    short, long = (Grid(("a",), (("x",),) * count) for count in (3, 60))
    assert belongs_to(short, Step("s"))
    assert not belongs_to(long, Step("s"))
    assert not belongs_to(short, Say("s"))


def test_ports_without_a_tube_get_a_hose():
    plan = plan_demo("workshop-render")
    assert plan.tubes
    said = " ".join(texts_of(assembly_sheet(plan, plan_leak_test(plan), ())))
    joined = {tube.port for tube in plan.tubes}
    free = [p.name for p in plan.routed.ports if not p.is_shut and p.name not in joined]
    assert free
    told = re.search(r"Hoses go to (.*?)\. Cut the hoses", said)[1]
    assert all(name in told for name in free)
    assert not any(name in told for name in joined)
    bare = " ".join(texts_of(assembly_sheet(replace(plan, tubes=()), plan_leak_test(plan), ())))
    assert "Hoses go to" not in bare
    assert "tubes of the table" not in bare


@pytest.mark.needs("pdftotext")
def test_a_step_and_a_table_longer_than_a_page_are_split_and_not_lost(tmp_path):
    plan = plan_demo("laser-driver")
    rows = tuple((f"row {k}", "word " * 30) for k in range(120))
    sheet = WorkSheet(
        "long", (Heading("h"), Say("before"), Grid(("a", "b"), rows, ticked=True), Step("last " * 200))
    )
    path = tmp_path / "long.pdf"
    write_pages(path, plan, (sheet,))
    text = read_pdf(path)
    assert text.count("last") == 200
    assert text.count("word") == 30 * 120
    assert [f"row {k}" for k in range(120)] == [f"row {n}" for n in re.findall(r"row\s+(\d+)", text)]


@pytest.mark.needs("pdftotext")
def test_what_is_longer_than_a_page_is_split_and_not_lost(tmp_path):
    plan = plan_demo("laser-driver")

    def words(kind: str, count: int) -> str:
        return " ".join(f"{kind}{k}" for k in range(count))

    blocks = (
        Step(words("s", 1500), ("gauge, mbar",), "A1"),
        Caution(words("c", 1500)),
        Grid(("a", "b"), (("short", words("g", 1500)), ("next", "row")), ticked=True),
        Matter("code", words("m", 1500)),
    )
    path = tmp_path / "long.pdf"
    write_pages(path, plan, (WorkSheet("long", blocks),))
    pages = read_pdf(path).split("\f")[:-1]
    said = [word for page in pages for word in page.split()]
    for kind in "scgm":
        assert [word for word in said if re.fullmatch(rf"{kind}\d+", word)] == words(kind, 1500).split()
    assert said.count("A1") == 1
    assert "".join(pages).count("gauge, mbar") == 1
    boxes = re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)"', read_pdf(path, "-bbox"))
    assert all(20.0 <= float(y0) <= float(y1) <= 825.0 for y0, y1 in boxes)


def test_torque_far_over_what_a_hand_feels_is_not_told_by_hand():
    steel, plastic = (
        assembly_sheet(plan, plan_leak_test(plan), ())
        for plan in (plan_demo("cell-tester"), plan_demo("workshop-render"))
    )
    assert not any("two fingers" in text for text in texts_of(steel))
    assert any("two fingers" in text for text in texts_of(plastic))
