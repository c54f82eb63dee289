"""The command: exit codes, messages, one JSON document, nothing that reaches the user as a traceback."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sample_filling import sample_filling
from sample_plan import fault, sample_plan

import exports.pipeline
from exports import writing
from exports.cli import run_command
from geom.errors import LayoutError, OutOfRange
from layouts.rules.catalogue import RULES

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "layouts" / "panels" / "laser-driver.toml"


def run(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    capsys.readouterr()
    code = run_command([str(word) for word in words])
    told = capsys.readouterr()
    assert "Traceback" not in told.out + told.err
    assert "internal error" not in told.err
    return code, told.out, told.err


def test_new_writes_a_file_that_plans_without_faults(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    code, out, _ = run(capsys, "new", tmp_path / "mine.toml")
    assert code == 0
    assert f"rillplate plan {tmp_path / 'mine.toml'}" in out
    code, out, _ = run(capsys, "plan", tmp_path / "mine.toml")
    assert code == 0
    assert "fault" not in out


def test_new_never_overwrites(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    (tmp_path / "mine.toml").write_text("mine")
    code, _, err = run(capsys, "new", tmp_path / "mine.toml")
    assert code == 2
    assert "exists already" in err
    assert (tmp_path / "mine.toml").read_text() == "mine"


def test_plan_prints_tables_with_units(capsys: pytest.CaptureFixture[str]):
    code, out, err = run(capsys, "plan", DEMO)
    assert code == 0
    assert err == ""
    for wanted in (
        "channel ",
        "length",
        "velocity",
        "Re",
        "L/min",
        "m/s",
        "kPa",
        "port ",
        "part ",
        "remedy:",
    ):
        assert wanted in out


def test_how_it_fills_is_told_once(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    bare = sample_plan((fault(),))
    plan = replace(bare, filling=sample_filling(bare))
    monkeypatch.setattr(exports.pipeline, "plan_panel", lambda *arguments: plan)
    for words in (("plan", "any.toml"), ("make", "any.toml", "--out", tmp_path / "out")):
        _, out, _ = run(capsys, *words)
        assert out.count("to fill: ") == 1, words
        assert len(re.findall("coolant (that )?stays when drained", out)) == 1, words


def test_stages_are_told_on_a_terminal_only(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr("sys.stderr.isatty", lambda: True)
    code, out, err = run(capsys, "plan", DEMO)
    assert code == 0
    err = re.sub(r"\x1b\[\d*m", "", err)
    # What the router is at stands in the line until the stage is done.
    assert "\rplacement 1" in err
    lines = [line.rpartition("\r")[2] for line in err.split("\n") if line]
    assert [line.split()[0] for line in lines] == [
        "read",
        "route",
        "flow",
        "posts",
        "service",
        "advise",
        "seal",
        "making",
        "fill",
        "rules",
    ]
    assert all(line.endswith(" s") for line in lines)
    assert "route  " not in out


def test_plan_json_is_one_document_and_the_picture_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    code, out, err = run(capsys, "plan", DEMO, "--json", "--picture", tmp_path / "plan.svg", "--seed", "3")
    assert code == 0
    document = json.loads(out)
    assert document["panel"]["name"] == "laser driver"
    assert document["files"] == []
    stages = {"read", "route", "flow", "posts", "service", "advise", "seal", "making", "fill", "rules"}
    assert document["seconds"].keys() == stages
    assert "wrote" in err
    assert (tmp_path / "plan.svg").read_text().startswith("<?xml")


def test_a_fault_gives_exit_code_1_and_its_remedy(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    monkeypatch.setattr(exports.pipeline, "plan_panel", lambda *arguments: sample_plan((fault(),)))
    code, out, _ = run(capsys, "plan", "any.toml")
    assert code == 1
    assert "fault port.room at (40, 62, 20) mm" in out
    assert "remedy: Move one of them." in out
    assert "1 fault" in out
    code, out, err = run(capsys, "make", "any.toml", "--out", tmp_path / "out")
    assert code == 1
    assert (
        "no drawing, sheets, parts list, STEP, STL, 3MF, DXF or GLB was written: a check found a fault\n"
        in err
    )
    # The folder once, its files in a line or two, and the fault below all of it.
    lines = out.splitlines()
    at = lines.index(f"wrote to {tmp_path / 'out'}:")
    assert lines[at + 1].startswith("  plan.svg, ")
    assert at < lines.index("fault port.room at (40, 62, 20) mm")
    assert lines[-1] == "1 fault (port.room)"
    code, out, _ = run(capsys, "make", "any.toml", "--out", tmp_path / "out", "--json")
    assert code == 1
    assert json.loads(out)["result"] == "faults"


def test_make_names_what_an_earlier_run_left(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    body = writing.OutFile("body.step", "body", lambda path: path.write_text("x") and None)
    listing = b'{"files": [{"name": "body.step", "what": "body", "sha256": "%s"}]}'
    writing.write_files(
        tmp_path, (body,), lambda records, left: listing % records[0].sha256.encode(), drop_stale=True
    )
    monkeypatch.setattr(exports.pipeline, "plan_panel", lambda *arguments: sample_plan((fault(),)))
    for _ in range(2):
        code, _, err = run(capsys, "make", "any.toml", "--out", tmp_path)
        assert code == 1
        told = " ".join(err.split())
        assert f"of an earlier run, still in {tmp_path}; do not work from them" in told
        assert "they belong to another state of the file: body.step" in told
        assert (tmp_path / "body.step").read_text() == "x"
    _, out, _ = run(capsys, "make", "any.toml", "--out", tmp_path, "--json")
    told = json.loads(out)["earlier_files"]
    assert [file["name"] for file in told] == ["body.step"]
    assert told == json.loads((tmp_path / "report.json").read_bytes())["earlier_files"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "missing"),
        (b"", "empty"),
        (b"[panel", ":1"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"#" * 1_100_000, "1"),
        (b"[panel]\nname = 3\n", "name"),
        (b"x = 1\n", "x"),
    ],
)
def test_bad_files_give_exit_code_2_and_name_the_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, content: bytes | None, said: str
):
    path = tmp_path / "missing.toml"
    if content is not None:
        path.write_bytes(content)
    for words in (("plan", path), ("make", path, "--out", tmp_path / "out")):
        code, out, err = run(capsys, *words)
        assert code == 2
        assert out == ""
        assert "missing.toml" in err
        assert said in err
    assert not (tmp_path / "out").exists()


def test_a_folder_in_place_of_the_file(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    code, _, err = run(capsys, "plan", tmp_path)
    assert code == 2
    assert str(tmp_path) in err


@pytest.mark.parametrize(
    "words",
    [
        ["plann", "x"],
        ["plan"],
        ["make", "x"],
        ["plan", "x", "--seed", "-1"],
        ["plan", "x", "--seed", "two"],
        ["--nonsense"],
        ["rules", "wall.thn"],
        [],
    ],
)
def test_wrong_usage_gives_exit_code_2(capsys: pytest.CaptureFixture[str], words: list[str]):
    code, _, err = run(capsys, *words)
    assert code == 2
    assert "Usage" in err


def test_a_mistyped_code_is_answered_with_near_ones(capsys: pytest.CaptureFixture[str]):
    assert "wall.thin" in run(capsys, "rules", "wall.thn")[2]


def test_rules_tells_all_and_one(capsys: pytest.CaptureFixture[str]):
    code, every, _ = run(capsys, "rules")
    assert code == 0
    assert all(rule.code in every for rule in RULES)
    code, one, _ = run(capsys, "rules", "wall.thin")
    assert code == 0
    assert one.startswith("wall.thin\n")
    assert "source" in one
    assert one in every


def test_schema_is_json_and_may_go_to_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path):
    code, out, _ = run(capsys, "schema")
    assert code == 0
    assert "panel" in json.loads(out)["properties"]
    code, _, _ = run(capsys, "schema", "--out", tmp_path / "panel.schema.json")
    assert code == 0
    assert (tmp_path / "panel.schema.json").read_text() == out


def test_version_and_help(capsys: pytest.CaptureFixture[str]):
    assert run(capsys, "--version")[1].startswith("rillplate")
    code, out, _ = run(capsys, "--help")
    assert code == 0
    for command in ("new", "plan", "make", "compare", "rules", "schema", "doctor"):
        assert f"  {command} " in out


@pytest.mark.parametrize(
    ("failure", "code", "said"),
    [
        (LayoutError('no way for channel "feed": the tank blocks it'), 3, 'no way for channel "feed"'),
        (OutOfRange("the pump never meets the loop"), 3, "the pump never meets the loop"),
        (KeyboardInterrupt(), 130, "interrupted"),
    ],
)
def test_failures_are_one_message(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    failure: BaseException,
    code: int,
    said: str,
):
    def fail(*arguments: object) -> None:
        raise failure

    monkeypatch.setattr(exports.pipeline, "plan_panel", fail)
    got, out, err = run(capsys, "plan", "x.toml")
    assert got == code
    assert out == ""
    assert said in err
    assert err.count("\n") == 1


def test_a_mistake_in_the_program_is_one_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    def fail(*arguments: object) -> None:
        raise ZeroDivisionError("two\nlines")

    monkeypatch.setattr(exports.pipeline, "plan_panel", fail)
    assert run_command(["plan", "x.toml"]) == 3
    told = capsys.readouterr().err
    assert told == "internal error: ZeroDivisionError: two lines; please report with the panel file\n"


def test_a_missing_system_library_is_named(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    def fail(*arguments: object) -> None:
        raise ImportError("libGL.so.1: cannot open shared object file: No such file or directory")

    monkeypatch.setattr(exports.pipeline, "plan_panel", fail)
    code, _, err = run(capsys, "plan", "x.toml")
    assert code == 2
    assert "apt-get install libgl1" in err


def test_full_disk_gives_exit_code_2(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
):
    def full(source: Path, target: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(exports.pipeline, "plan_panel", lambda *arguments: sample_plan((fault(),)))
    monkeypatch.setattr(writing.os, "replace", full)
    code, _, err = run(capsys, "make", "any.toml", "--out", tmp_path / "out")
    assert code == 2
    assert f"{tmp_path / 'out'}: the disk is full: more is needed than the " in err
    assert re.search(r"than the [\d.]+ [kM]B that were free there", err)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("words", [["plan", str(DEMO)], ["rules"], ["--help"]])
def test_output_to_a_full_disk_is_one_message(words: list[str]):
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "exports", *words],
            cwd=ROOT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == (
        "rillplate: standard output: the disk is full; free some space or write elsewhere\n"
    )


def test_closed_outputs_are_no_mistake_of_the_program():
    for closed in (">&-", ">/dev/full 2>/dev/full"):
        done = subprocess.run(
            ["sh", "-c", f'"$0" -m exports rules {closed}', sys.executable],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.stderr == ""
        assert done.returncode == (0 if closed == ">&-" else 2)


@pytest.mark.parametrize(
    "words",
    [["make", str(DEMO), "--out", ""], ["plan", ""], ["plan", str(DEMO), "--picture", ""], ["new", ""]],
)
def test_an_empty_path_is_wrong_usage(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    words: list[str],
):
    monkeypatch.chdir(tmp_path)
    code, _, err = run(capsys, *words)
    assert code == 2
    assert "Usage" in err
    assert "the path is empty" in err
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_told_with_the_reason(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(exports.pipeline, "plan_panel", lambda *arguments: sample_plan((fault(),)))
    code, _, err = run(capsys, "make", "any.toml", "--out", "/proc/x")
    assert code == 2
    assert "/proc/x: the folder cannot be made: /proc takes no new folders" in err


def test_help_of_plan_promises_no_more_than_it_keeps(capsys: pytest.CaptureFixture[str]):
    _, out, _ = run(capsys, "plan", "--help")
    assert "seconds for a common panel, longer with more effort" in " ".join(out.split())


def test_a_reader_that_goes_away_is_no_failure():
    with subprocess.Popen(
        [sys.executable, "-m", "exports", "rules"], cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        told = process.stderr.read()
        assert process.wait(timeout=60) == 0
    assert told == b""


PRESSED_TWICE = """
import importlib, os, sys
module, name, number = sys.argv[1], sys.argv[2], int(sys.argv[3])
home = importlib.import_module(module)
true = getattr(home, name)

def pressed(*given, **named):
    os.kill(os.getpid(), number)
    os.kill(os.getpid(), number)
    return true(*given, **named)

setattr(home, name, pressed)
from exports.cli import main
main(sys.argv[4:])
"""


@pytest.mark.parametrize(
    ("module", "name", "number"),
    [
        ("layouts.file.read", "read_panel", signal.SIGINT),
        ("layouts.route", "lay_out", signal.SIGTERM),
        ("geom.build", "build_solids", signal.SIGINT),
        ("exports.formats.step", "write_step", signal.SIGTERM),
        ("exports.formats.threemf", "write_threemf", signal.SIGINT),
    ],
)
def test_an_interrupted_make_leaves_the_folder_as_it_was(
    tmp_path: Path, module: str, name: str, number: signal.Signals
):
    (tmp_path / "report.json").write_text("{}")
    make = ["make", str(DEMO), "--out", str(tmp_path)]
    done = subprocess.run(
        [sys.executable, "-c", PRESSED_TWICE, module, name, str(int(number)), *make],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 130, done.stderr
    assert done.stderr == "rillplate: interrupted; no file is half written\n"
    assert [p.name for p in tmp_path.iterdir()] == ["report.json"]
    assert (tmp_path / "report.json").read_text() == "{}"


PRESSED_AT_IMPORT = """
import os, signal, sys

class Press:
    def find_spec(self, name, path=None, target=None):
        if name == os.environ["PRESS_AT"]:
            sys.meta_path.remove(self)
            os.kill(os.getpid(), signal.SIGINT)

sys.meta_path.insert(0, Press())
"""


@pytest.mark.parametrize(
    ("start", "at"),
    [
        (["-m", "exports"], "exports.cli"),
        (["-m", "exports"], "exports.interruption"),
        (["-m", "exports"], "click"),
        (["-c", "import sys; from exports.cli import main; sys.exit(main())"], "exports.commands"),
        (["-c", "import sys; from exports.cli import main; sys.exit(main())"], "click"),
    ],
)
def test_an_interruption_of_the_first_imports_is_quiet(tmp_path: Path, start: list[str], at: str):
    (tmp_path / "sitecustomize.py").write_text(PRESSED_AT_IMPORT)
    done = subprocess.run(
        [sys.executable, *start, "rules"],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": f"{tmp_path}:{ROOT}", "PRESS_AT": at},
        capture_output=True,
        text=True,
        check=False,
        # A test run in the background of a shell hands on that Ctrl-C is ignored.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    assert done.returncode == 130, done.stderr
    assert done.stdout == ""
    # Before the answer to Ctrl-C is set there is nothing to speak with.
    early = at in ("exports.cli", "exports.interruption")
    assert done.stderr == ("" if early else "rillplate: interrupted; no file is half written\n")


def test_the_entry_loads_nothing_that_takes_time():
    told = subprocess.run(
        [
            sys.executable,
            "-c",
            "import sys; before = set(sys.modules); import exports.cli; print(*(set(sys.modules) - before))",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    assert set(told.split()) <= {"exports", "exports.cli", "__future__"}


@given(
    st.lists(
        st.sampled_from(
            ["plan", "make", "new", "rules", "schema", "--json", "--out", "--seed", "", "-", "ü", "9"]
        ),
        max_size=4,
    )
)
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_words_give_an_exit_code(capsys: pytest.CaptureFixture[str], tmp_path: Path, words: list[str]):
    here = Path.cwd()
    os.chdir(tmp_path)
    try:
        code = run_command(words)
    finally:
        os.chdir(here)
    assert code in (0, 1, 2, 3)
    assert "internal error" not in capsys.readouterr().err


def test_effort_is_one_of_three_and_told_in_the_table(capsys: pytest.CaptureFixture[str]):
    for effort in ("quick", "thorough"):
        code, out, _ = run(capsys, "plan", DEMO, "--effort", effort)
        assert code == 0
        assert "routing optimal (proven)" in out
        assert "of the pump's head" in out
    code, _, err = run(capsys, "plan", DEMO, "--effort", "long")
    assert code == 2
    assert "quick" in err
    assert "thorough" in err
