"""The report as a page: its numbers are those of report.json, all text is escaped, and it stands on its own."""

from __future__ import annotations

import base64
import hashlib
import itertools
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import html
from printed import assert_as_printed
from sample_demos import plan_demo
from sample_failure import sample_failure
from sample_plan import accept, fault, rich_plan, sample_plan

import exports.page.built
from exports.check_solids import Checked
from exports.pictures.failure_picture import draw_failure
from exports.pictures.plan_picture import draw_plan
from exports.pictures.pressure_picture import draw_pressure
from exports.pictures.setup_picture import draw_setups
from exports.report.document import report_document
from exports.report.html.findings_section import view_findings
from exports.report.html.inline_svg import inline_svg
from exports.report.html.job import tell_job
from exports.report.html.rendering import fill_template, quote_script
from exports.report.html.whole import failure_page, report_page
from exports.tables.panel_tables import tell_thinnest
from geom.findings import Finding
from layouts.cost.quantities import cost_sheet
from layouts.panels.catalogue import demo_names
from layouts.plan import Plan
from layouts.rules.catalogue import BY_SOLIDS, RULES
from layouts.rules.findings import make_finding

EVIL = '<b>"x"&\'</b></script><!--'
FILES = (("plan.svg", "the plan"), ("cost.csv", "what it takes"))


def page_of(
    plan: Plan,
    checked: Checked | None = None,
    findings: tuple[Finding, ...] | None = None,
    pictures: dict[str, str] | None = None,
) -> str:
    given = plan.findings if findings is None else findings
    drawn = {"plan.svg": draw_plan(plan)} if pictures is None else pictures
    return report_page(plan, checked, given, cost_sheet(plan), drawn, FILES)


def read_page(page: str) -> html.HtmlElement:
    return html.document_fromstring(page)


def by_class(element: html.HtmlElement, name: str) -> list[html.HtmlElement]:
    return element.xpath(f".//*[contains(concat(' ', normalize-space(@class), ' '), ' {name} ')]")


def text_of(element: html.HtmlElement) -> str:
    return " ".join(element.text_content().split())


def rows_of(root: html.HtmlElement, caption: str) -> list[dict[str, str]]:
    """Return the rows of the table whose caption begins so, each by its headings."""
    (table,) = [t for t in root.iter("table") if text_of(t.find("caption")).startswith(caption)]
    heads = [text_of(th) for th in table.find("thead").iter("th")]
    return [
        dict(zip(heads, (text_of(cell) for cell in row), strict=True))
        for row in table.find("tbody").iter("tr")
    ]


def number_of(root: html.HtmlElement, name: str) -> str:
    (told,) = [div for div in root.xpath("//dl[@class='numbers']/div") if text_of(div.find("dt")) == name]
    return text_of(told.find("dd/b"))


def split_unit(text: str) -> tuple[str, str]:
    value, _, unit = text.partition(" ")
    return value, unit


def test_channels_have_the_numbers_of_the_report():
    plan = plan_demo("workshop-render")
    document = report_document(plan, None, plan.findings, (), {})
    rows = rows_of(read_page(page_of(plan)), "Channels")
    assert [row["channel"] for row in rows] == [channel["name"] for channel in document["channels"]]
    flowing = 0
    for row, channel in zip(rows, document["channels"], strict=True):
        assert row["length"] == f"{channel['length_mm']:.0f} mm"
        assert row["section"] == f"{channel['width_mm']:g} × {channel['depth_mm']:g} mm"
        assert int(row["bends"]) == channel["bends"]
        if channel["flow_l_min"] == 0.0:
            assert (row["flow"], row["drop"]) == ("none", "-")
            continue
        flowing += 1
        for head, key, unit in (
            ("flow", "flow_l_min", "L/min"),
            ("velocity", "velocity_m_s", "m/s"),
            ("drop", "drop_kpa", "kPa"),
        ):
            printed, shown = split_unit(row[head])
            assert shown == unit
            assert_as_printed(channel[key], printed)
        assert float(row["Re"]) == pytest.approx(channel["reynolds"], rel=document["flow"]["band"])
        assert row["drop's band"] == f"±{100 * channel['band']:.0f} %"
    assert flowing == 7


def test_key_numbers_are_those_of_the_report_with_unit_and_band():
    plan = plan_demo("workshop-render")
    flow = report_document(plan, None, plan.findings, (), {})["flow"]
    root = read_page(page_of(plan))
    for name, key, band in (
        ("flow", "flow_l_min", "band"),
        ("pump's head", "head_m", "head_band"),
        ("loop's drop", "loop_drop_kpa", "head_band"),
    ):
        printed, unit, told = number_of(root, name).split(" ", 2)
        assert_as_printed(flow[key], printed)
        assert unit == {"flow_l_min": "L/min", "head_m": "m", "loop_drop_kpa": "kPa"}[key]
        assert told == f"±{100 * flow[band]:.0f} %"


def test_ports_and_parts_have_the_numbers_of_the_report():
    plan = plan_demo("workshop-render")
    document = report_document(plan, None, plan.findings, (), {})
    root = read_page(page_of(plan))
    ports = rows_of(root, "Ports")
    assert [row["port"] for row in ports] == [port["name"] for port in document["ports"]]
    for row, port in zip(ports, document["ports"], strict=True):
        told = [float(row[axis].removesuffix(" mm")) for axis in "xyz"]
        assert told == pytest.approx(port["at_mm"], abs=0.005)
        assert (row["thread"], row["on"]) == (port["thread"], port["on"])
    for row, part in zip(rows_of(root, "Parts"), document["flow"]["by_part"], strict=True):
        assert row["part"] == part["part"]
        assert_as_printed(part["flow_l_min"], row["flow"].removesuffix(" L/min"))
        assert_as_printed(part["drop_kpa"], row["drop"].removesuffix(" kPa"))


def test_what_was_measured_on_the_solids_is_told(plan: Plan, checked: Checked):
    document = report_document(plan, checked, plan.findings, (), {})
    root = read_page(page_of(plan, checked))
    assert checked.thinnest is not None
    told = number_of(root, "thinnest wall beside coolant")
    assert_as_printed(document["walls"]["thinnest_mm"], told.removesuffix(" mm"))
    assert tell_thinnest(checked) in text_of(root.get_element_by_id("making"))
    volumes = {row["solid"]: row["volume"] for row in rows_of(root, "Volumes")}
    for part in document["volumes"]["parts"]:
        assert_as_printed(part["solid_mm3"] / 1000.0, volumes[part["part"]].removesuffix(" cm3"))
    assert by_class(root.get_element_by_id("solid"), "projection")
    assert root.get_element_by_id("scene").text


def test_a_plan_without_solids_has_no_view_of_them():
    page = page_of(sample_plan())
    root = read_page(page)
    assert not root.xpath("//*[@id='solid' or @id='scene' or @data-in-solid]")
    assert "a solid" not in text_of(root.get_element_by_id("verdict"))


@pytest.mark.parametrize(
    ("findings", "mark", "words"),
    [
        ((), "good", "May be made"),
        ((make_finding("flow.fast", "caution", "fast", "widen it"),), "caution", "with the cautions"),
        ((fault(), make_finding("flow.fast", "caution", "fast", "widen it")), "fault", "Not to be made"),
        ((accept(fault(), "room is made by hand"),), "good", "May be made"),
    ],
)
def test_the_verdict_comes_first_and_names_what_is_against_it(findings, mark, words):
    root = read_page(page_of(sample_plan(), findings=findings))
    first = root.xpath("//main/section")[0]
    assert first.get("class").split() == ["verdict", mark]
    assert words in text_of(first.find("h2"))
    against = [one for one in findings if one.severity != "note"]
    told = [text_of(li) for li in first.iter("li")]
    assert len(told) == len(against)
    for line, finding in zip(told, sorted(against, key=lambda f: f.severity != "fault"), strict=True):
        assert finding.severity in line
        assert finding.text in line
        assert finding.remedy in line


def test_findings_stand_by_severity_with_all_that_is_known_of_them():
    given = (
        make_finding("port.torque", "note", "a note", "turn it in"),
        make_finding(
            "wall.thin",
            "fault",
            "a wall",
            "move it",
            1.99996,
            2.0,
            "mm",
            (12.0, 34.0, 5.0),
            ("channel feed", "tank"),
        ),
        accept(fault(), EVIL),
    )
    root = read_page(page_of(sample_plan(), findings=given))
    items = root.xpath("//ol[@class='findings']/li")
    assert [li.get("data-severity") for li in items] == ["fault", "note", "note"]
    facts = {text_of(div.find("dt")): text_of(div.find("dd")) for div in items[0].xpath(".//dl/div")}
    assert facts["where"] == "(12, 34, 5) mm"
    assert facts["concerns"] == "channel feed, tank"
    # As many digits as tell a value from its limit.
    assert (facts["value"], facts["limit"]) == ("1.99996 mm", "2 mm")
    assert items[0].xpath(".//*[@data-token='channel-1']")
    assert EVIL in text_of(items[2])


def test_every_check_stands_with_what_it_found():
    given = (fault(), fault(), make_finding("port.room", "note", "a note", "none"))
    root = read_page(page_of(sample_plan(), findings=given))
    results = {row["check"]: row["result"] for row in rows_of(root, "All checks")}
    assert list(results) == [rule.code for rule in RULES]
    assert results["port.room"] == "2 faults, 1 note"
    assert results["flow.fast"] == "nothing found"
    assert {code for code, result in results.items() if result == "not checked"} == BY_SOLIDS


@pytest.mark.parametrize("name", demo_names())
def test_no_plan_finds_what_only_solids_tell(name: str):
    assert not BY_SOLIDS & {finding.code for finding in plan_demo(name).findings}


def test_with_solids_every_check_is_made(plan: Plan, checked: Checked):
    results = {
        row["check"]: row["result"] for row in rows_of(read_page(page_of(plan, checked)), "All checks")
    }
    assert "not checked" not in results.values()
    assert results["wall.thin"] == "nothing found"


def heavy_svg(paths: int) -> str:
    one = '<path d="M0 0l1 1l2 2l3 3l4 4l5 5l6 6l7 7z" fill="#aabbcc"/>'
    return f'<svg role="img" aria-label="heavy" viewBox="0 0 9 9">{one * paths}</svg>'


def test_a_page_that_grows_too_large_leads_to_its_heaviest_pictures_instead():
    """Twice as much as a page may hold (2.5 MB): the lighter picture stays, the heavier ones are linked."""
    plan = plan_demo("workshop-render")
    pictures = {
        "plan.svg": draw_plan(plan),
        "pressure.svg": heavy_svg(20_000),
        "pumps.svg": heavy_svg(30_000),
        "setups.svg": heavy_svg(20_001),
        "closing.svg": heavy_svg(2_000),
    }
    files = tuple((name, name) for name in pictures)
    page = report_page(plan, None, plan.findings, cost_sheet(plan), pictures, files)
    assert len(page.encode()) < 2_500_000
    assert page == report_page(plan, None, plan.findings, cost_sheet(plan), pictures, files)
    root = read_page(page)
    said = {text_of(caption) for caption in root.iter("figcaption")}
    for name, left_out in (("pumps.svg", True), ("setups.svg", True), ("closing.svg", False)):
        (caption,) = [one for one in said if name in one]
        assert ("Too large for this page" in caption) == left_out
        assert root.xpath(f"//figcaption//a[@href='{name}']")


OLD = ("body.step", "assembly.glb", "plan-old.svg", "sheets.pdf", "drawing.pdf")
"""Of an earlier run, in no order."""
MISLEADING = "drawing.pdf, sheets.pdf, assembly.glb, body.step, plan-old.svg"
DO_NOT = "do not work from them: they belong to another state of the file"


def test_old_papers_beside_a_fault_are_warned_of():
    plan = sample_plan()
    page = report_page(plan, None, (fault(),), cost_sheet(plan), {"plan.svg": draw_plan(plan)}, FILES, OLD)
    verdict = read_page(page).get_element_by_id("verdict")
    for name in ("drawing", "sheets", "parts list", "STEP", "STL", "3MF", "DXF", "GLB"):
        assert name in text_of(verdict.find("h2"))
    assert DO_NOT in text_of(verdict)
    assert MISLEADING in text_of(verdict)
    failed = read_page(failure_page(sample_failure(), draw_failure(sample_failure()), OLD))
    why = text_of(failed.get_element_by_id("why"))
    assert "No drawing, sheets, parts list" in why
    assert DO_NOT in why
    assert MISLEADING in why
    good = report_page(plan, None, (), cost_sheet(plan), {"plan.svg": draw_plan(plan)}, FILES)
    assert "another state" not in good


def evil_plan() -> Plan:
    plan = rich_plan()
    panel = replace(plan.panel, name=EVIL)
    channel = plan.routed.channels[1]
    routed = replace(
        plan.routed,
        channels=tuple(replace(c, name=EVIL) if c is channel else c for c in plan.routed.channels),
        ports=tuple(
            replace(p, part=EVIL, channel=p.channel.replace(channel.name, EVIL)) for p in plan.routed.ports
        ),
    )
    flowing = replace(
        plan.flowing,
        channels=tuple(
            replace(f, channel=EVIL) if f.channel == channel.name else f for f in plan.flowing.channels
        ),
        parts=tuple(replace(p, part=EVIL) for p in plan.flowing.parts),
    )
    return replace(plan, panel=panel, routed=routed, flowing=flowing)


def test_what_comes_from_the_file_is_escaped():
    plan = evil_plan()
    page = page_of(plan, pictures={"plan.svg": draw_plan(plan)})
    root = read_page(page)
    assert root.find(".//h1").text == EVIL
    assert not root.xpath("//b[not(parent::dd)]")
    assert [script.get("type") for script in root.iter("script")][:1] == ["application/json"]
    assert "<b>" not in page.replace("<dd><b>", "")
    assert any(row["channel"] == EVIL for row in rows_of(root, "Channels"))
    failure = sample_failure()
    failure = replace(failure, panel=replace(failure.panel, name=EVIL), text=EVIL)
    told = failure_page(failure, draw_failure(failure))
    assert "<b>" not in told
    assert read_page(told).find(".//h1").text == EVIL


def rich_page() -> str:
    plan = plan_demo("observatory-camera")
    drawn = {
        "plan.svg": draw_plan(plan),
        "pressure.svg": draw_pressure(plan),
        "setups.svg": draw_setups(plan),
    }
    return page_of(plan, findings=(*plan.findings, fault()), pictures=drawn)


@pytest.mark.parametrize("make", [rich_page, lambda: page_of(rich_plan())])
def test_no_id_stands_twice_and_all_that_is_named_is_there(make):
    root = read_page(make())
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    named = [
        element.get("href")[1:] for element in root.iter() if (element.get("href") or "").startswith("#")
    ]
    for element in root.iter():
        for value in element.attrib.values():
            named += re.findall(r"url\(#([^)]+)\)", value)
    assert named
    assert set(named) <= set(ids)
    tokens = {element.get("data-token") for element in by_class(root, "thing")}
    rows = {element.get("data-token") for element in root.xpath("//tr[@data-token]")}
    assert tokens <= rows


@pytest.mark.parametrize(
    "make", [rich_page, lambda: failure_page(sample_failure(), draw_failure(sample_failure()))]
)
def test_the_outline_of_the_page_is_sound(make):
    page = make()
    assert page.startswith('<!doctype html>\n<html lang="en">')
    root = read_page(page)
    assert len(root.xpath("//h1")) == 1
    levels = [int(heading.tag[1]) for heading in root.iter("h1", "h2", "h3", "h4", "h5")]
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    for link in root.xpath("//nav//a"):
        assert text_of(link)
        assert root.get_element_by_id(link.get("href")[1:]) is not None
    for table in root.iter("table"):
        assert text_of(table.find("caption"))
        assert all(th.get("scope") and text_of(th) for th in table.iter("th"))
    for svg in root.iter("svg"):
        assert svg.get("aria-hidden") or (svg.get("aria-label") and svg.get("role") in ("img", "group"))
    for figure in root.iter("figure"):
        assert figure.find("figcaption") is not None


def test_the_page_asks_for_nothing_and_runs_only_its_own_script():
    page = rich_page()
    root = read_page(page)
    for element in root.iter():
        for name in ("src", "srcset", "data", "action"):
            assert not element.get(name)
        assert not (element.get("href") or "").startswith(("http:", "https:", "//"))
    assert not list(root.iter("link", "iframe", "object", "embed", "form"))
    policy = root.xpath("//meta[@http-equiv]")[0].get("content")
    assert "default-src 'none'" in policy
    scripts = [script for script in re.findall(r"<script>(.*?)</script>", page, re.DOTALL)]
    assert len(scripts) == 1, "the page's script is not built: pip install -e ."
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in policy


def test_without_its_script_the_page_says_so_and_stays_a_document(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    monkeypatch.setattr(exports.page.built, "FOLDER", tmp_path)
    root = read_page(page_of(rich_plan()))
    assert exports.page.built.REMEDY in text_of(by_class(root, "unbuilt")[0])
    assert not [script for script in root.iter("script") if script.get("type") != "application/json"]
    assert "script-src 'none'" in root.xpath("//meta[@http-equiv]")[0].get("content")
    assert rows_of(root, "Channels")


def test_a_script_cannot_end_its_element():
    assert quote_script('a("</script>", "<!--")') == r'a("\x3C/script>", "\x3C!--")'
    assert quote_script("i<scripts.length") == "i<scripts.length"


def test_a_value_that_is_forgotten_is_an_error():
    with pytest.raises(Exception, match="undefined"):
        fill_template("report.html", script="", style="")


def test_the_same_panel_gives_the_same_bytes(plan: Plan, checked: Checked):
    assert page_of(plan, checked) == page_of(plan, checked)


def test_a_picture_keeps_its_ids_to_itself():
    svg = (
        '<?xml version="1.0"?>\n<svg aria-label=\'id="a" url(#a)\'><defs><path id="a" d="M0 0"/></defs>'
        '<use href="#a"/><path fill="url(#a)" clip-path="url(#a)"/><text>id="a" url(#a)</text></svg>\n'
    )
    assert inline_svg(svg, "one") == (
        '<svg aria-label=\'id="a" url(#a)\'><defs><path id="one-a" d="M0 0"/></defs>'
        '<use href="#one-a"/><path fill="url(#one-a)" clip-path="url(#one-a)"/><text>id="a" url(#a)</text></svg>'
    )


def test_a_feature_finds_its_place_in_the_plan():
    plan = sample_plan()
    root = read_page(page_of(plan))
    lights = root.get_element_by_id("lights").text
    for channel in plan.routed.channels:
        assert f'"feature": "channel {channel.name}"' in lights
    names = {feature.name for feature in plan.detail.features}
    for said in re.findall(r'"feature": "([^"]+)"', lights):
        assert said in names
    assert view_findings((), (), {}, {}) == ()


def test_a_channel_is_told_from_where_coolant_comes_in_to_where_it_leaves():
    plan = plan_demo("workshop-render")
    lights = json.loads(read_page(page_of(plan)).get_element_by_id("lights").text)
    said = {token: entry["said"] for token, entry in lights.items()}
    ends = 'from "graphics left outlet" and "graphics right outlet" to "radiator upper inlet"'
    assert said["channel-4"].endswith(ends)
    assert "coolant stands in it" in said["channel-8"]
    assert "joins" in said["channel-8"]


def test_the_job_is_told_in_the_order_of_the_loop():
    said = tell_job(plan_demo("workshop-render").panel)
    names = [
        "middle pump",
        "processor block",
        "graphics left",
        "graphics right in parallel",
        "radiator upper",
    ]
    places = [said.index(name) for name in names]
    assert places == sorted(places)
    assert "400 × 220 × 20 mm of PMMA cast, milled" in said
    assert "in one piece" in tell_job(plan_demo("cupboard-server").panel)


def test_a_panel_without_a_layout_is_told_with_what_helps():
    failure = sample_failure()
    root = read_page(failure_page(failure, draw_failure(failure)))
    why, helps = (
        text_of(root.get_element_by_id("why")),
        [text_of(li) for li in root.get_element_by_id("helps").iter("li")],
    )
    assert failure.describe_reason() in why
    assert failure.describe_places() in why
    assert helps == ["move the lower wall: tried, all can then be routed", "another order (may help)"]
    # Wherever the file lies, the page is the same.
    assert str(Path(failure.panel.path).parent) not in html.tostring(root, encoding="unicode")
