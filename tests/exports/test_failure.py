"""A panel without a layout: in the terminal, in report.json, as a picture, and what stays of an earlier run."""

import json
import re
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
import shapely
from picture_texts import assert_inside, assert_no_text_over_text, texts_of
from sample_failure import NAMES, sample_failure

import exports.pipeline
from exports.cli import run_command
from exports.pictures.failure_picture import draw_failure
from exports.pipeline import make_panel
from exports.report.failure import describe_failure, failure_document
from exports.writing import REPORT_NAME, OutFile, write_files
from exports.written_files import write_failure
from geom.errors import LayoutError
from layouts.failure import KINDS, LayoutFailure, Link
from layouts.file.read import read_panel
from layouts.ground import survey_panel
from layouts.panel import KeepClear
from layouts.panels.catalogue import demo_path
from layouts.place_bounds import find_placements

FILES = {"plan.svg", "report.html", REPORT_NAME}


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> LayoutFailure:
    """Make every plan fail; return how."""
    failure = sample_failure()

    def fail(path, progress=None, seed=0, effort=None, note=None):
        progress("read", 0.5)
        raise LayoutError(failure)

    monkeypatch.setattr(exports.pipeline, "plan_panel", fail)
    return failure


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = run_command([str(word) for word in words])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_terminal_tells_what_where_why_and_what_to_try():
    lines = describe_failure(sample_failure()).splitlines()
    assert lines[0].endswith("laser-driver.toml: no layout was found")
    assert all(line.startswith("  ") and len(line) <= 100 for line in lines[1:])
    told = "\n".join(lines)
    assert "2.0 mm are lacking" in told
    plain = " ".join(told.split())
    assert "At the place looked at closest (pump inlet at (" in plain
    assert "deg) a gap is too narrow (proven for this place): channels must" in plain
    assert "5 of 9 places of pump and tank were looked at; 3 of them were proven impossible" in plain
    assert "- move the lower wall: tried, all can then be routed" in told
    assert "- another order (may help)" in told


@pytest.mark.parametrize("kind", KINDS)
def test_the_document_has_the_reason(kind):
    document = failure_document(sample_failure(kind=kind, proven=kind != "not found"), (), {"read": 0.12345})
    assert document["result"] == "no layout"
    assert document["seconds"] == {"read": 0.123}
    reason = document["reason"]
    assert reason.keys() == {
        "kind",
        "proven",
        "proven_here",
        "channels",
        "text",
        "remedies",
        "at_mm",
        "gap",
    }
    assert reason["kind"] == kind
    assert reason["proven_here"] is (kind != "not found")
    assert reason["proven"] is False
    assert reason["text"].startswith("no layout was found. At the place looked at closest (")
    assert reason["channels"] == list(NAMES)
    assert reason["at_mm"] == [75.0, 61.0]
    assert reason["remedies"] == [
        {"text": "move the lower wall", "works": True},
        {"text": "another order", "works": False},
    ]
    assert reason["gap"]["lacking_mm"] == 2.0
    assert document["places"] == {"all": 9, "tried": 5, "impossible": 3}
    assert json.loads(json.dumps(document, allow_nan=False)) == document


def test_a_remedy_says_what_it_was_found_to_do():
    said = {kind: describe_failure(sample_failure(kind=kind)) for kind in KINDS}
    assert "tried, that channel can then be routed" in said["unreachable"]
    assert "tried, there is then a place" in said["no place"]
    assert "tried, all can then be routed" in said["refused"]


def no_place() -> LayoutFailure:
    """Return the failure of a panel on which a clamp stands between pump and tank."""
    panel = read_panel(demo_path("laser-driver"))
    panel = replace(panel, keep_clear=(KeepClear("clamp", (84.0, 64.0, 148.0, 73.0), 1),))
    with pytest.raises(LayoutError) as caught:
        next(find_placements(survey_panel(panel)))
    return caught.value.failure


def test_without_a_place_the_answer_is_whole_too(tmp_path: Path):
    failure = no_place()
    lines = describe_failure(failure).splitlines()
    assert "laser-driver.toml:" in lines[0]
    assert lines[0].endswith("pump: no layout: pump and tank find no place (proven)")
    write_failure(failure, tmp_path)
    report = json.loads((tmp_path / REPORT_NAME).read_bytes())
    assert report["result"] == "no layout"
    assert report["pump"] is None
    assert (report["reason"]["kind"], report["reason"]["proven"]) == ("no place", True)
    assert report["reason"]["proven_here"] is True
    picture = (tmp_path / "plan.svg").read_text(encoding="utf-8")
    said = {text for text, _ in texts_of(picture)}
    assert {"where the pump may stand", "where the tank may stand", "tank", "pump", "clamp"} <= said
    assert_inside(picture)


def test_plan_prints_the_block_and_leaves_with_3(capsys, failing, tmp_path: Path):
    picture = tmp_path / "why.svg"
    code, out, err = run(capsys, "plan", "any.toml", "--picture", picture)
    assert code == 3
    assert out == ""
    assert err.startswith(describe_failure(failing))
    assert picture.read_text(encoding="utf-8") == draw_failure(failing)
    code, out, err = run(capsys, "plan", "any.toml", "--json")
    assert code == 3
    assert json.loads(out) == failure_document(failing, (), {"read": 0.5})
    assert "no layout" in err


def test_make_writes_report_and_picture_and_keeps_an_earlier_run(capsys, failing, tmp_path: Path):
    body = OutFile("body.step", "body", lambda path: path.write_text("x") and None)
    listing = b'{"files": [{"name": "body.step", "what": "body", "sha256": "%s"}]}'
    write_files(
        tmp_path, (body,), lambda records, left: listing % records[0].sha256.encode(), drop_stale=True
    )
    for _ in range(2):
        code, out, err = run(capsys, "make", "any.toml", "--out", tmp_path)
        assert code == 3
        assert out == ""
        assert f"wrote to {tmp_path}:\n  plan.svg, report.html, report.json\n" in err
        told = " ".join(err.split())
        assert (
            "no drawing, sheets, parts list, STEP, STL, 3MF, DXF or GLB was written: there is no layout"
            in told
        )
        assert f"of an earlier run, still in {tmp_path}; do not work from them" in told
        assert "they belong to another state of the file: body.step" in told
    assert {path.name for path in tmp_path.iterdir()} == FILES | {"body.step"}
    report = json.loads((tmp_path / REPORT_NAME).read_bytes())
    assert report["result"] == "no layout"
    assert [file["name"] for file in report["files"]] == ["plan.svg", "report.html"]
    assert [file["name"] for file in report["earlier_files"]] == ["body.step"]
    assert report["seconds"] == {}
    code, out, _ = run(capsys, "make", "any.toml", "--out", tmp_path, "--json")
    assert code == 3
    assert json.loads(out) == {**report, "seconds": {"read": 0.5}}


def test_the_error_reaches_whoever_calls(failing, tmp_path: Path):
    with pytest.raises(LayoutError, match="lacking") as caught:
        make_panel("any.toml", tmp_path / "out", lambda stage, seconds: None)
    assert caught.value.failure is failing
    assert {path.name for path in (tmp_path / "out").iterdir()} == FILES


def test_the_same_failure_gives_the_same_bytes(tmp_path: Path):
    write_failure(sample_failure(), tmp_path / "a")
    write_failure(sample_failure(), tmp_path / "b")
    for name in FILES:
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()


def test_a_real_panel_that_cannot_be_routed_ends_in_report_and_picture(capsys, tmp_path: Path):
    text = demo_path("laser-driver").read_text(encoding="utf-8")
    for name, low, high in (("lower wall", 0, 50), ("upper wall", 72, 120)):
        text += f'\n[[keep_clear]]\nname = "{name}"\nbox = ["72 mm", "{low} mm", "75 mm", "{high} mm"]\n'
    file = tmp_path / "walled.toml"
    file.write_text(text, encoding="utf-8")
    code, _, err = run(capsys, "make", file, "--out", tmp_path / "out", "--effort", "quick")
    assert code == 3
    assert "no layout was found" in err
    assert "a gap is too narrow (proven for this place)" in " ".join(err.split())
    reason = json.loads((tmp_path / "out" / REPORT_NAME).read_bytes())["reason"]
    assert reason["channels"] == list(NAMES)
    assert reason["gap"]["lacking_mm"] == pytest.approx(2.0, abs=0.1)
    picture = (tmp_path / "out" / "plan.svg").read_text(encoding="utf-8")
    assert {*NAMES, "gap 22.0 mm wide", "24.0 mm needed"} <= {said for said, _ in texts_of(picture)}


class TestPicture:
    """The picture tells it in words and lines."""

    def test_names_numbers_and_reason_stand_in_it(self):
        picture = draw_failure(sample_failure())
        said = [text for text, _ in texts_of(picture)]
        for text in (*NAMES, "lower wall", "upper wall", "tank", "pump inlet", "diode block inlet", "drain"):
            assert text in said
        assert "gap 22.0 mm wide" in said
        assert any("2.0 mm are lacking" in text for text in said)
        assert any("tried, all can then be routed" in text for text in said)
        assert any(text.startswith("no layout was found ·") for text in said)
        assert not any("(proven)" in text for text in said)
        assert_inside(picture)

    def test_only_what_is_proven_of_every_place_is_called_proven(self):
        failure = sample_failure(tried=9, impossible=9)
        said = [text for text, _ in texts_of(draw_failure(failure))]
        assert any(text.startswith("no layout: a gap is too narrow (proven) ·") for text in said)
        assert describe_failure(failure).splitlines()[0].endswith("no layout: a gap is too narrow (proven)")
        assert failure_document(failure, (), {})["reason"]["proven"] is True
        for changes in ({"impossible": 8}, {"proven": False}, {"places": 10}):
            less = sample_failure(**{"tried": 9, "impossible": 9, **changes})
            assert failure_document(less, (), {})["reason"]["proven"] is False
            assert "(proven)" not in draw_failure(less) + describe_failure(less) + str(less)

    @pytest.mark.parametrize(
        ("dx", "dy"), [(-25.0, -5.0), (-15.0, 0.0), (0.0, -15.0), (10.0, 5.0), (15.0, 0.0)]
    )
    def test_no_name_lies_on_another_on_a_line_or_on_a_bore(self, dx: float, dy: float):
        """Two channels shorter than their names, from the pump's inlet and outlet."""
        failure = sample_failure(kind="conflict", gap=None, proven=False)
        panel, placement = failure.panel, failure.placement
        (x, y), (u, v) = placement.outlet, placement.inlet
        ways = (((x, y), (x + dx, y + dy)), ((u, v), (u + dx, v - dy)))
        failure = replace(failure, links=tuple(Link(n, w) for n, w in zip(NAMES, ways, strict=True)))
        picture = draw_failure(failure)
        assert_no_text_over_text(picture)
        (shift,) = re.findall(r'<g transform="translate\(([\d.]+) ([\d.]+)\)">\n<path', picture)[:1]
        x0, y0, scale = float(shift[0]), float(shift[1]), 620.0 / panel.height

        def drawn(at: tuple[float, float]) -> tuple[float, float]:
            return x0 + at[0] * scale, y0 + (panel.height - at[1]) * scale

        shapes = [shapely.LineString([drawn(a), drawn(b)]) for a, b in (link.ends for link in failure.links)]
        for at, bore in (
            (placement.inlet, panel.pump.inlet_bore),
            (placement.outlet, panel.pump.outlet_bore),
        ):
            shapes.append(shapely.Point(drawn(at)).buffer(bore / 2 * scale))
        names = {*NAMES, "pump inlet", "pump outlet", "diode block inlet", "diode block outlet"}
        boxes = {said: shapely.box(*box) for said, box in texts_of(picture) if said in names}
        assert boxes.keys() == names
        for said, box in boxes.items():
            assert not any(box.intersects(shape) for shape in shapes), said

    def test_channels_asked_for_are_dashed_each_in_its_own_way(self):
        root = ElementTree.fromstring(draw_failure(sample_failure()))
        dashes = [e.get("stroke-dasharray") for e in root.iter() if e.get("stroke-width") == "2"]
        dashes = [dash for dash in dashes if dash]
        assert len(dashes) == len(set(dashes)) == len(NAMES)

    def test_the_gap_is_dimensioned_to_scale(self):
        picture = draw_failure(sample_failure())
        scale = 620.0 / 120.0
        x = f"{75.0 * scale:.2f}".rstrip("0").rstrip(".")
        top, bottom = (f"{(120.0 - y) * scale:.2f}".rstrip("0").rstrip(".") for y in (72.0, 50.0))
        assert f"M{x} {bottom}L{x} {top}" in picture

    def test_without_gap_and_cells_there_is_less(self):
        picture = draw_failure(sample_failure(kind="conflict", gap=None, cells=()))
        said = [text for text, _ in texts_of(picture)]
        assert not any(text.startswith("gap ") for text in said)
        assert not any("crosses" in text for text in said)
        assert set(NAMES) <= set(said)

    def test_a_separate_tank_and_ports_on_all_sides(self):
        panel = read_panel(demo_path("cupboard-server"))
        placement = next(iter(find_placements(survey_panel(panel))))
        picture = draw_failure(sample_failure(panel=panel, placement=placement, gap=None, links=(), cells=()))
        assert "tank outlet" in {said for said, _ in texts_of(picture)}
        assert_inside(picture)
