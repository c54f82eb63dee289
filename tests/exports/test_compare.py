"""Two panels side by side: which rows differ, by how much, and what the command prints, draws and leaves with."""

from __future__ import annotations

import json
import math
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from picture_texts import assert_inside, assert_no_text_over_text, texts_of
from sample_demos import plan_demo
from sample_plan import fault, sample_plan

import exports.pipeline
from exports.cli import run_command
from exports.comparing.compare_panels import Planned, compare_planned, plan_files
from exports.comparing.errors import finding_error
from exports.comparing.file_keys import compare_documents, show_toml
from exports.comparing.finding_pairs import pair_findings
from exports.comparing.flow_figures import share_of_head
from exports.comparing.rows import judge, pair_figures
from exports.comparing.values import Comparison, Figure, KeyRow, NamedFigure, Row
from exports.pictures.comparison_picture import draw_comparison
from exports.report.comparison import comparison_document
from exports.tables.comparison_tables import describe_comparison
from exports.wording.comparison_words import show_figure, show_values, tell_difference, tell_finding
from geom.errors import LayoutError, PanelFileError
from geom.findings import Finding
from layouts.plan import Plan

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "layouts" / "panels" / "laser-driver.toml"
TEXT = DEMO.read_text(encoding="utf-8")
WALL = '\n[[keep_clear]]\nname = "wall"\nbox = ["70 mm", "0 mm", "75 mm", "120 mm"]\n'
"""From edge to edge between pump and diode block: nothing can be routed."""

SWAPPED = {"only in A": "only in B", "only in B": "only in A"}


def compare_panels(a: Plan, b: Plan) -> Comparison:
    """Return two plans compared."""
    return compare_planned(Planned(a.panel, a), Planned(b.panel, b))


@pytest.fixture(scope="module")
def driver() -> Plan:
    return plan_demo("laser-driver")


@pytest.fixture(scope="module")
def server() -> Plan:
    return plan_demo("cupboard-server")


@pytest.fixture(scope="module")
def unlike(driver: Plan, server: Plan) -> Comparison:
    return compare_panels(driver, server)


def rows_of(comparison: Comparison) -> dict[tuple[str, str, str], Row]:
    return {(group.name, row.what, row.unit): row for group in comparison.groups for row in group.rows}


def differing(comparison: Comparison) -> set[tuple[str, str]]:
    return {
        (group.name, row.what) for group in comparison.groups for row in group.rows if row.verdict != "same"
    }


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    capsys.readouterr()
    code = run_command(["compare", *(str(word) for word in words)])
    told = capsys.readouterr()
    assert "Traceback" not in told.out + told.err
    assert "internal error" not in told.err
    return code, told.out, told.err


def written(folder: Path, name: str, text: str) -> Path:
    file = folder / name
    file.write_text(text, encoding="utf-8")
    return file


class TestFigures:
    """Which rows there are, and whether they differ."""

    def test_a_panel_does_not_differ_from_itself(self, driver: Plan):
        comparison = compare_panels(driver, driver)
        assert comparison.same_file
        assert differing(comparison) == set()
        assert comparison.same_plan
        assert all(row.difference is None for row in rows_of(comparison).values())

    def test_only_what_was_changed_differs(self):
        plan = sample_plan()
        wider = replace(plan, panel=replace(plan.panel, width=plan.panel.width + 12.5, sha256="other"))
        comparison = compare_panels(plan, wider)
        assert differing(comparison) == {("plate", "width")}
        assert rows_of(comparison)["plate", "width", "mm"].difference == 12.5
        assert not comparison.same_file

    def test_a_wider_channel_shows_where_it_must(self, driver: Plan, tmp_path: Path):
        wider = written(tmp_path, "wide.toml", TEXT.replace('width = "6 mm"', 'width = "7 mm"', 1))
        a, b, keys = plan_files((DEMO, wider))
        comparison = compare_planned(a, b, keys)
        rows = rows_of(comparison)
        assert [(row.key, row.a, row.b) for row in keys] == [("channel.width", '"6 mm"', '"7 mm"')]
        assert not any(group == "plate" for group, _ in differing(comparison))
        assert rows["channels", "pump - diode block: width", "mm"].difference == 1.0
        assert rows["coolant", "channels with the bores into them", "mL"].difference > 0.5
        assert rows["mass, planned", "body", "kg"].difference < 0.0
        # A millimetre gains less than the bands of the formulas.
        assert rows["flow", "flow", "L/min"].verdict == "within the bands"

    def test_swapped_sides_swap_columns_and_negate(self, driver: Plan, server: Plan, unlike: Comparison):
        back = compare_panels(server, driver)
        there, here = rows_of(unlike), rows_of(back)
        assert there.keys() == here.keys()
        assert any(row.difference for row in there.values())
        for key, row in there.items():
            other = here[key]
            assert (row.a, row.b) == (other.b, other.a)
            assert other.verdict == SWAPPED.get(row.verdict, row.verdict)
            if row.difference is None:
                assert other.difference is None
            else:
                assert other.difference == -row.difference
        pairs = {(pair.code, pair.a, pair.b) for pair in unlike.findings}
        assert pairs == {(pair.code, pair.b, pair.a) for pair in back.findings}

    @pytest.mark.parametrize("name", ["laser-driver", "cupboard-server", "cell-tester"])
    def test_what_channels_take_of_the_drop_is_what_the_parts_leave(self, name: str):
        plan = plan_demo(name)
        flowing = plan.flowing
        taken, error = share_of_head(plan)
        by_parts = sum(part.drop_pa * part.flow_m3_s for part in flowing.parts) / flowing.flow_m3_s
        assert taken + by_parts == pytest.approx(flowing.loop_drop_pa, rel=1e-3)
        assert 0.0 < error < taken

    def test_every_number_says_its_unit_or_is_a_count(self, unlike: Comparison):
        for (_, what, unit), row in rows_of(unlike).items():
            for figure in (row.a, row.b):
                if figure is not None and figure.number is not None and not unit:
                    assert figure.number == int(figure.number), what

    def test_no_row_stands_twice(self, unlike: Comparison):
        listed = [(g.name, row.what, row.unit) for g in unlike.groups for row in g.rows]
        assert len(listed) == len(set(listed))

    def test_masses_are_said_to_be_planned(self, unlike: Comparison):
        assert "mass, planned" in [group.name for group in unlike.groups]

    def test_a_drop_of_the_channels_is_as_uncertain_in_all_rows(self, unlike: Comparison):
        rows = rows_of(unlike)
        for row in (
            rows["channels", "what they take of the loop's drop", "kPa"],
            rows["routing", "channels take of the head at that flow", "kPa"],
        ):
            assert 0.03 < row.a.error / row.a.number < 0.5

    def test_cost_is_compared_in_one_currency_only(self):
        rows = pair_figures(
            {"cost": [NamedFigure("all that is priced", "EUR", Figure(10.0))]},
            {"cost": [NamedFigure("all that is priced", "USD", Figure(12.0))]},
        )[0].rows
        assert [(row.unit, row.verdict, row.difference) for row in rows] == [
            ("EUR", "only in A", None),
            ("USD", "only in B", None),
        ]

    def test_prices_make_rows(self, tmp_path: Path):
        prices = '\n[prices]\ncurrency = "EUR"\nmaterial_per_kg = {}\nmachine_per_h = 30.0\n'
        files = (
            written(tmp_path, "a.toml", TEXT + prices.format("10.0")),
            written(tmp_path, "b.toml", TEXT + prices.format("20.0")),
        )
        a, b, _ = plan_files(files)
        rows = rows_of(compare_planned(a, b))
        body = rows["cost", "stock body", "EUR"]
        assert body.b.number == pytest.approx(2 * body.a.number, abs=0.02)
        # Hours are known to 40 %, but they are the same in both: only the material makes the difference.
        whole, parts = rows["cost", "all that is priced", "EUR"], ("stock body", "stock cover")
        assert whole.verdict == "different"
        dearer = sum(rows["cost", part, "EUR"].difference for part in parts)
        assert whole.difference == pytest.approx(dearer, abs=0.02)


class TestBands:
    """What differs by more than both bands, and what may be said of it."""

    numbers = st.floats(-1e6, 1e6, allow_nan=False)
    errors = st.floats(0.0, 1e5, allow_nan=False)

    @pytest.mark.published(
        source="Moore 1966, Interval Analysis: two intervals are disjoint, or they overlap (recalled)"
    )
    @given(a=numbers, b=numbers, error_a=st.floats(1e-3, 1e5), error_b=st.floats(1e-3, 1e5))
    def test_numbers_differ_where_their_intervals_are_disjoint(
        self, a: float, b: float, error_a: float, error_b: float
    ):
        low, high = sorted(((a, error_a), (b, error_b)))
        gap = (high[0] - high[1]) - (low[0] + low[1])
        if abs(gap) < 1e-6:
            return
        verdict = judge(Figure(a, error_a), Figure(b, error_b))
        assert (verdict == "different") == (gap > 0.0)

    @given(a=numbers, b=numbers, error_a=errors, error_b=errors)
    def test_rows_are_symmetric(self, a: float, b: float, error_a: float, error_b: float):
        one = pair_figures(
            {"g": [NamedFigure("w", "mm", Figure(a, error_a))]},
            {"g": [NamedFigure("w", "mm", Figure(b, error_b))]},
        )
        two = pair_figures(
            {"g": [NamedFigure("w", "mm", Figure(b, error_b))]},
            {"g": [NamedFigure("w", "mm", Figure(a, error_a))]},
        )
        (here,), (there,) = one[0].rows, two[0].rows
        assert here.verdict == there.verdict
        if here.difference is not None:
            assert here.difference == -there.difference
        else:
            assert there.difference is None

    @given(a=numbers, error=errors)
    def test_a_number_does_not_differ_from_itself(self, a: float, error: float):
        assert judge(Figure(a, error), Figure(a, error)) == "same"

    @given(value=numbers, error=st.floats(1e-4, 1e5))
    def test_no_more_digits_than_the_band_allows(self, value: float, error: float):
        shown, _, band = show_figure(Figure(value, error), "kPa").removesuffix(" kPa").partition(" ± ")
        assert abs(float(shown) - value) <= 0.51 * 10 ** math.floor(math.log10(float(f"{error:.0e}"))) + 1e-9
        assert len(band.strip("0.").rstrip("0")) == 1, "an error has one digit"
        if "." in band:
            assert len(shown.partition(".")[2]) == len(band.partition(".")[2])
        assert float(band) == pytest.approx(error, rel=0.51)

    @pytest.mark.parametrize(
        ("a", "b", "told"),
        [
            (Figure(5.42, 0.4), Figure(5.9, 0.4), "within the bands"),
            (Figure(5.42, 0.4), Figure(7.06, 0.5), "+1.6 L/min"),
            (Figure(7.06, 0.5), Figure(5.42, 0.4), "-1.6 L/min"),
            (Figure(5.42, 0.4), Figure(5.42, 0.4), "same"),
            (Figure(5.42, 0.4), None, "only in A"),
            (None, Figure(5.42, 0.4), "only in B"),
            (Figure(20.004), Figure(20.0), "-0.004 L/min"),
            (Figure(20.0), Figure(20.0 + 1e-12), "same"),
            (Figure(59.0, 0.0, 0), Figure(59.4, 0.0, 0), "+0.4 L/min"),
            (Figure(20.0), Figure(20.25), "+0.25 L/min"),
            (Figure("cord"), Figure("bonded"), "differs"),
            (Figure("cord"), Figure("cord"), "same"),
            (Figure("may not run"), Figure(20.0), "differs"),
        ],
    )
    def test_what_is_said_of_a_row(self, a: Figure | None, b: Figure | None, told: str):
        assert tell_difference(Row("flow", "L/min", a, b, judge(a, b))) == told

    @pytest.mark.parametrize(
        ("figure", "told"),
        [
            (Figure(3.0912, 0.2134), "3.1 ± 0.2 L/min"),
            (Figure(189.0, 75.6), "190 ± 80 L/min"),
            (Figure(0.0, 0.3), "0.0 ± 0.3 L/min"),
            (Figure(-0.01, 0.3), "0.0 ± 0.3 L/min"),
            (Figure(1.5259, 0.0998), "1.5 ± 0.1 L/min"),
            (Figure(8.0), "8 L/min"),
            (Figure(8.25), "8.25 L/min"),
            (Figure(59.0, 0.0, 0), "59 L/min"),
            (None, "–"),
        ],
    )
    def test_how_a_figure_is_told(self, figure: Figure | None, told: str):
        assert show_figure(figure, "L/min") == told


class TestFindings:
    """Findings pair by what they are about."""

    def pair(self, a: tuple[Finding, ...], b: tuple[Finding, ...]):
        plan = sample_plan()
        return pair_findings(replace(plan, findings=a), replace(plan, findings=b))

    def found(self, code: str = "wall.thin", features: tuple[str, ...] = ("a", "b"), **more) -> Finding:
        values = {
            "severity": "caution",
            "text": "t",
            "remedy": "r",
            "source": "s",
            "value": 1.5,
            "unit": "mm",
        }
        return Finding(code=code, features=features, **{**values, **more})

    def test_by_code_and_features_in_any_order(self):
        (pair,) = self.pair((self.found(),), (self.found(features=("b", "a")),))
        assert pair.verdict == "same"

    def test_in_one_only(self):
        pairs = self.pair((self.found("flow.fast"),), (self.found("wall.thin"),))
        assert [(pair.code, pair.verdict) for pair in pairs] == [
            ("flow.fast", "only in A"),
            ("wall.thin", "only in B"),
        ]

    def test_another_value_is_told_with_both(self):
        (pair,) = self.pair((self.found(),), (self.found(value=1.7),))
        assert pair.verdict == "different"
        assert tell_finding(pair) == "caution wall.thin: A 1.5 mm, B 1.7 mm"

    def test_a_value_within_the_flow_s_band_is_the_same(self):
        flow = [self.found("flow.fast", value=value, unit="m/s") for value in (1.5, 1.52)]
        (pair,) = self.pair((flow[0],), (flow[1],))
        assert finding_error(1.5, "m/s", sample_plan().flowing.band) > 0.02
        assert pair.verdict == "same"

    def test_a_calculated_bow_is_not_exact(self):
        lifts = [self.found("cover.bow", value=value) for value in (0.0301, 0.0305)]
        (pair,) = self.pair((lifts[0],), (lifts[1],))
        assert pair.verdict == "same"
        (pair,) = self.pair((lifts[0],), (self.found("cover.bow", value=0.05),))
        assert pair.verdict == "different"

    def test_accepted_in_one(self):
        accepted = self.found(severity="note", accepted="long cutter")
        (pair,) = self.pair((self.found(),), (accepted,))
        assert pair.verdict == "different"
        assert tell_finding(pair) == "caution or note wall.thin: A caution, B accepted, long cutter"

    def test_numbers_of_features_play_no_part(self):
        (pair,) = self.pair((self.found(features=("groove 1",)),), (self.found(features=("groove 3",)),))
        assert pair.verdict == "same"

    def test_the_nearest_pair(self):
        here = (self.found(features=("a port", "groove 1")), self.found(features=("groove 1",)))
        pairs = self.pair(here, (self.found(features=("groove 3",)),))
        assert [(pair.a.features, pair.verdict) for pair in pairs] == [
            (("groove 1",), "same"),
            (("a port", "groove 1"), "only in A"),
        ]

    def test_more_features_are_named(self):
        (pair,) = self.pair((self.found(),), (self.found(features=("a", "b", "drain 2")),))
        assert tell_finding(pair) == "caution wall.thin: only in B: drain 2"

    def test_several_of_one_code_and_faults_first(self):
        here = (self.found(features=("c",)), self.found(), self.found("make.reach", severity="fault"))
        pairs = self.pair(here, (self.found(),))
        assert [(pair.code, pair.verdict) for pair in pairs] == [
            ("make.reach", "only in A"),
            ("wall.thin", "same"),
            ("wall.thin", "only in A"),
        ]


class TestKeys:
    """What differs in the files, key by key."""

    def test_order_plays_no_part(self):
        a = {"x": 1, "part": [{"name": "p", "heat": "1 W"}, {"name": "q", "heat": "2 W"}]}
        b = {"part": [{"heat": "2 W", "name": "q"}, {"name": "p", "heat": "1 W"}], "x": 1}
        assert compare_documents(a, b) == ()

    def test_parts_go_by_their_names(self):
        a = {"part": [{"name": "p", "heat": "1 W"}, {"name": "q block", "inlet": {"on": "top"}}]}
        b = {"part": [{"name": "q block", "inlet": {"on": "left"}}, {"name": "r", "heat": "3 W"}]}
        told = {(row.key, row.a, row.b) for row in compare_documents(a, b)}
        assert told == {
            ("part.p.heat", '"1 W"', None),
            ('part."q block".inlet.on', '"top"', '"left"'),
            ("part.r.heat", None, '"3 W"'),
        }

    def test_lists_without_names_are_values(self):
        a = {"cutters": [{"diameter": "2 mm"}], "order": ["tank", ["a", "b"]]}
        b = {"cutters": [{"diameter": "3 mm"}], "order": ["tank", ["b", "a"]]}
        assert {row.key: (row.a, row.b) for row in compare_documents(a, b)} == {
            "cutters": ('[{ diameter = "2 mm" }]', '[{ diameter = "3 mm" }]'),
            "order": ('["tank", ["a", "b"]]', '["tank", ["b", "a"]]'),
        }

    @pytest.mark.parametrize(
        ("a", "b", "same"),
        [
            ("8 mm", "0.8 cm", True),
            ("8 mm", "8mm", True),
            ("35 °C", "308.15 K", True),
            ("8 mm", "8.1 mm", False),
            ("8 mm", "8 W", False),
            ("cord", "cord ", False),
            (1, 1.0, True),
            (True, 1, False),
            (["8 mm", "0.9 cm"], ["0.8 cm", "9 mm"], True),
            (["8 mm"], ["8 mm", "9 mm"], False),
            ({}, {}, True),
        ],
    )
    def test_quantities_go_by_what_they_mean(self, a: object, b: object, same: bool):
        assert (compare_documents({"k": a}, {"k": b}) == ()) is same

    def test_a_name_that_looks_like_a_quantity_is_a_name(self):
        assert compare_documents({"panel": {"name": "8 mm"}}, {"panel": {"name": "0.8 cm"}}) != ()

    @given(
        st.dictionaries(
            st.text(min_size=1),
            st.recursive(st.text() | st.integers() | st.booleans(), lambda one: st.lists(one, max_size=3)),
        )
    )
    def test_values_are_told_on_one_line_and_read_back(self, table: dict[str, object]):
        import tomllib

        for row in compare_documents(table, {}):
            assert row.a.isprintable()
        for value in table.values():
            assert tomllib.loads(f"key = {show_toml(value)}")["key"] == value

    def test_demos_against_themselves_written_anew(self):
        import tomllib

        from layouts.panels.catalogue import DEMOS, demo_path

        for name in DEMOS:
            document = tomllib.loads(demo_path(name).read_text(encoding="utf-8"))
            turned = {key: document[key] for key in reversed(document)}
            assert compare_documents(document, turned) == ()

    def test_long_values_are_shortened_around_their_first_difference(self):
        order = [f"channel {k} - {k + 1}" for k in range(20)]
        swapped = [*order[:9], order[10], order[9], *order[11:]]
        (row,) = compare_documents({"order": order}, {"order": swapped})
        for most in (30, 40):
            a, b = show_values(row, most)
            assert a != b
            assert "channel 9" in a
            assert "channel 10" in b
            assert max(len(a), len(b)) <= most
        assert show_values(KeyRow("k", None, "1"), 40) == ("–", "1")


class TestCommand:
    """What is printed, drawn, and with which code it leaves."""

    def test_side_by_side_with_bands_and_notes(self, capsys: pytest.CaptureFixture[str], tmp_path: Path):
        other = written(tmp_path, "other.toml", TEXT.replace('body = "18 mm"', 'body = "20 mm"'))
        code, out, err = run(capsys, DEMO, other)
        assert code == 0
        assert err == ""
        assert re.search(r"thickness of the body +18 mm +20 mm  \+2 mm\n", out)
        assert re.search(r"\n  flow +1\.9 ± 0\.1 L/min +1\.9 ± 0\.1 L/min  within the bands", out)
        assert re.search(r'\n  make\.body +"18 mm" +"20 mm"\n', out)
        assert "Everything here is planned" in out
        assert max(len(line) for line in out.splitlines()) < 150

    def test_the_same_file_twice(self, capsys: pytest.CaptureFixture[str], tmp_path: Path):
        copy = written(tmp_path, "copy.toml", TEXT)
        code, out, _ = run(capsys, DEMO, copy)
        assert code == 0
        assert out.splitlines()[-1] == "The two files are the same, byte for byte: nothing differs."
        assert str(copy) in out.replace("\n", " ")

    def test_a_comment_more(self, capsys: pytest.CaptureFixture[str], tmp_path: Path):
        code, out, _ = run(capsys, DEMO, written(tmp_path, "a.toml", TEXT + "# more\n"))
        assert code == 0
        assert "The two files ask for the same, though they are not the same byte for byte." in out

    def test_json_is_one_document_of_a_stable_shape(self, capsys: pytest.CaptureFixture[str], tmp_path: Path):
        other = written(tmp_path, "other.toml", TEXT.replace('body = "18 mm"', 'body = "20 mm"'))
        code, out, _ = run(capsys, DEMO, other, "--json")
        document = json.loads(out)
        assert code == 0
        assert list(document) == [
            "schema", "a", "b", "same_file", "groups", "findings", "file_keys", "notes", "seconds",
        ]  # fmt: skip
        assert document["schema"] == 1
        assert list(document["a"]) == ["file", "name", "sha256", "result", "problem"]
        for group in document["groups"]:
            assert list(group) == ["name", "rows"]
            for row in group["rows"]:
                assert list(row) == [
                    "what", "unit", "a", "a_error", "b", "b_error", "difference", "verdict",
                ]  # fmt: skip
        for pair in document["findings"]:
            assert list(pair) == ["code", "verdict", "a", "b"]
        assert document["file_keys"] == [{"key": "make.body", "a": '"18 mm"', "b": '"20 mm"'}]
        assert {"A route", "B route"} <= document["seconds"].keys()
        body = next(r for g in document["groups"] for r in g["rows"] if r["what"] == "thickness of the body")
        assert (body["a"], body["b"], body["difference"], body["verdict"]) == (18.0, 20.0, 2.0, "different")

    def test_json_numbers_have_the_digits_of_their_bands(self, unlike: Comparison):
        document = comparison_document(unlike, {})
        flow = next(r for g in document["groups"] for r in g["rows"] if r["what"] == "flow")
        assert flow["a_error"] > 0.0
        assert flow["a"] == round(flow["a"], 2)
        json.dumps(document, allow_nan=False)

    def test_a_fault_in_either_gives_1(self, capsys: pytest.CaptureFixture[str], tmp_path: Path):
        faulty = written(tmp_path, "thin.toml", TEXT.replace('cover = "6 mm"', 'cover = "1 mm"'))
        for files in ((DEMO, faulty), (faulty, DEMO)):
            code, out, _ = run(capsys, *files)
            assert code == 1
            assert "with faults" in " ".join(out.split())
            assert "fault cover.thick" in out

    def test_files_that_cannot_be_used_are_told_together(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path
    ):
        broken = written(tmp_path, "broken.toml", TEXT.replace('width = "6 mm"', "width = 6"))
        missing = tmp_path / "missing.toml"
        code, out, err = run(capsys, broken, missing)
        assert code == 2
        assert out == ""
        assert "broken.toml" in err
        assert "channel.width" in err
        assert "missing.toml: no such file" in err
        code, _, err = run(capsys, broken, broken)
        assert code == 2
        assert err.count("channel.width") == 1

    def test_without_a_layout_the_other_is_told(self, capsys: pytest.CaptureFixture[str], tmp_path: Path):
        walled = written(tmp_path, "walled.toml", TEXT + WALL)
        picture = tmp_path / "both.svg"
        code, out, err = run(capsys, DEMO, walled, "--picture", picture, "--effort", "quick")
        assert code == 3
        assert "walled.toml: no layout was found" in err
        assert "B has no layout: only the files can be compared." in out
        assert re.search(r"\n  flow +1\.9 ± 0\.1 L/min +–\n", out)
        assert 'keep_clear.wall.box      –  ["70 mm", "0 mm", "75 mm", "120 mm"]' in out
        drawn = picture.read_text(encoding="utf-8")
        assert any(said.startswith("no layout") for said, _ in texts_of(drawn))
        code, out, _ = run(capsys, walled, DEMO, "--json", "--effort", "quick")
        document = json.loads(out)
        assert code == 3
        assert [document[side]["result"] for side in "ab"] == ["no layout", "ok"]
        assert "wall" in document["a"]["problem"]
        assert {row["verdict"] for group in document["groups"] for row in group["rows"]} == {"only in B"}

    def test_neither_has_a_layout(
        self, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ):
        def fail(panel, *others):
            raise LayoutError(f"{panel.path}: the pump does not meet the loop")

        monkeypatch.setattr(exports.pipeline, "plan_read", fail)
        other = written(tmp_path, "other.toml", TEXT.replace('"18 mm"', '"20 mm"'))
        code, out, err = run(capsys, DEMO, other, "--picture", tmp_path / "p.svg")
        assert code == 3
        assert err.count("the pump does not meet the loop") == 2
        assert "A and B have no layout" in out
        assert "make.body" in out
        ElementTree.parse(tmp_path / "p.svg")
        code, out, err = run(capsys, DEMO, DEMO)
        assert code == 3
        assert err.count("the pump does not meet the loop") == 1

    def test_files_are_read_once(self, capsys: pytest.CaptureFixture[str], tmp_path: Path):
        """A pipe in place of a file, as a shell gives it for the output of another command, has nothing twice."""
        read, write = os.pipe()
        with os.fdopen(write, "wb") as pipe:
            pipe.write(TEXT.encode())
        try:
            code, out, _ = run(capsys, f"/dev/fd/{read}", DEMO)
        finally:
            os.close(read)
        assert code == 0
        assert "byte for byte" in out

    @pytest.mark.parametrize(
        ("change", "code"),
        [
            (("", ""), 0),
            (('cover = "6 mm"', 'cover = "1 mm"'), 1),
            (("[panel]", "[pannel]"), 2),
            (("[drain]", WALL + "[drain]"), 3),
        ],
    )
    def test_exit_codes_of_the_process(self, change: tuple[str, str], code: int, tmp_path: Path):
        other = written(tmp_path, "other.toml", TEXT.replace(*change, 1) if change[0] else TEXT)
        done = subprocess.run(
            [sys.executable, "-m", "exports", "compare", str(DEMO), str(other), "--effort", "quick"],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == code, done.stdout + done.stderr
        assert "Traceback" not in done.stderr
        assert bool(done.stdout) == (code != 2)

    def test_names_with_odd_characters(self, capsys: pytest.CaptureFixture[str], tmp_path: Path):
        name = """a <b> & 'c' "d", ü – 日本 ]]>"""
        text = TEXT.replace('name = "laser driver"', f"name = {json.dumps(name, ensure_ascii=False)}")
        text = text.replace("diode block", "diode <&> block")
        odd = written(tmp_path, "odd\nfile\x1b[31m <&>.toml", text)
        picture = tmp_path / "odd.svg"
        code, out, _ = run(capsys, odd, DEMO, "--picture", picture)
        assert code == 0
        assert name in " ".join(out.split())
        assert "\x1b" not in out
        said = " ".join(text for text, _ in texts_of(picture.read_text(encoding="utf-8")))
        assert name in said
        code, out, _ = run(capsys, odd, DEMO, "--json")
        assert json.loads(out)["a"]["name"] == name

    def test_no_cad_kernel_is_loaded(self):
        code = (
            "import contextlib, io, sys\n"
            "from exports.cli import run_command\n"
            "with contextlib.redirect_stdout(io.StringIO()):\n"
            f"    assert run_command(['compare', {str(DEMO)!r}, {str(DEMO)!r}]) == 0\n"
            "print([n for n in ('cadquery', 'OCP', 'trimesh', 'ezdxf', 'reportlab') if n in sys.modules])"
        )
        done = subprocess.run(
            [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
        )
        assert done.stdout.strip() == "[]", done.stdout + done.stderr

    def test_the_same_text_every_time(self, unlike: Comparison, driver: Plan, server: Plan):
        again = compare_panels(driver, server)
        assert describe_comparison(again) == describe_comparison(unlike)
        assert draw_comparison(again, driver, server) == draw_comparison(unlike, driver, server)

    def test_stages_of_both_are_told_with_their_letters(self):
        stages: list[str] = []
        plan_files(
            (DEMO, ROOT / "layouts" / "panels" / "cupboard-server.toml"), lambda s, t: stages.append(s)
        )
        assert [stage for stage in stages if stage.endswith(" route")] == ["A route", "B route"]
        assert {stage[:2] for stage in stages} == {"A ", "B "}

    def test_problems_of_both_files_come_in_one_error(self, tmp_path: Path):
        a, b = tmp_path / "a.toml", tmp_path / "b.toml"
        with pytest.raises(PanelFileError) as told:
            plan_files((a, b))
        assert len(told.value.problems) == 2


class TestPicture:
    """Both plans at one scale."""

    def test_both_at_one_scale_and_nothing_on_another(self, unlike: Comparison, driver: Plan, server: Plan):
        drawn = draw_comparison(unlike, driver, server)
        assert_inside(drawn)
        assert_no_text_over_text(drawn)
        rulers = [[box for said, box in texts_of(drawn) if said == mark] for mark in ("50", "100")]
        steps = [abs(b[0] - a[0]) for a, b in zip(*(sorted(r) for r in rulers), strict=True)]
        assert len({round(step) for step in steps if step > 20.0}) == 1

    def test_ids_stand_once(self, driver: Plan):
        camera = plan_demo("observatory-camera")
        drawn = draw_comparison(compare_panels(camera, driver), camera, driver)
        ids = re.findall(r'\bid="([^"]+)"', drawn)
        assert len(ids) == len(set(ids))
        assert set(re.findall(r"url\(#([^)]+)\)", drawn)) <= set(ids)

    @pytest.mark.parametrize(
        ("a", "b"),
        [
            ("workshop-render", "cell-tester"),
            ("observatory-camera", "synthesizer-rack"),
            ("cupboard-server", "workshop-render"),
        ],
    )
    def test_all_demos_are_drawn_without_overlap(self, a: str, b: str):
        plans = plan_demo(a), plan_demo(b)
        drawn = draw_comparison(compare_panels(*plans), *plans)
        assert_inside(drawn)
        assert_no_text_over_text(drawn)

    def test_one_side_without_a_plan(self, driver: Plan):
        none = Planned(driver.panel, None, None, "why " * 90)
        drawn = draw_comparison(compare_planned(none, Planned(driver.panel, driver)), None, driver)
        assert_inside(drawn)
        assert_no_text_over_text(drawn)

    def test_faults_are_told_in_it(self):
        plans = sample_plan(), sample_plan((fault(),))
        drawn = draw_comparison(compare_panels(*plans), *plans)
        said = " ".join(text for text, _ in texts_of(drawn))
        assert "no faults" in said
        assert "with faults" in said
        assert f"only in B: fault {fault().code}" in said


@settings(max_examples=60, deadline=None)
@given(
    a=st.dictionaries(st.sampled_from("abcd"), st.floats(-1e3, 1e3) | st.text(max_size=4), max_size=4),
    b=st.dictionaries(st.sampled_from("abcd"), st.floats(-1e3, 1e3) | st.text(max_size=4), max_size=4),
    error=st.floats(0.0, 10.0),
)
def test_any_figures_make_whole_rows(a: dict, b: dict, error: float):
    """Every figure of either stands in one row, on its side, and can be told."""
    told = [{"g": [NamedFigure(k, "mm", Figure(v, error)) for k, v in one.items()]} for one in (a, b)]
    groups = pair_figures(*told)
    rows = [row for group in groups for row in group.rows]
    assert {row.what for row in rows} == a.keys() | b.keys()
    for row in rows:
        assert (row.a is not None) == (row.what in a)
        assert (row.b is not None) == (row.what in b)
        assert row.verdict == "only in A" if row.b is None else row.verdict != "only in A"
        assert tell_difference(row)
        for figure in (row.a, row.b):
            assert isinstance(show_figure(figure, row.unit), str)
        if row.difference is not None:
            assert abs(row.difference - (row.b.value - row.a.value)) <= row.error + 0.01 + 1e-9
