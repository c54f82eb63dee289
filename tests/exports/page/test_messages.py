"""What page and server say to each other, held to `messages.ts`: every key, every type, every kind of message."""

from __future__ import annotations

import ast
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from sample_checked import unbuilt_check
from sample_demos import plan_demo
from sample_failure import sample_failure
from typed_messages import find_misfits, list_samples, list_shapes, parse_types, read_types

import exports.page
from exports.page.documents.made_document import made_document
from exports.page.documents.plan_told import quick_told, whole_told
from exports.page.documents.problem_documents import problem_document
from exports.page.documents.stopped_documents import failed_solid_document, stopped_document, unmade_document
from exports.page.serving import tells
from exports.page.serving.file_state import Conflict, FileState
from exports.page.serving.seen_file import SeenFile
from exports.page.serving.wishes import _GESTURES, _READERS, read_wish
from exports.writing import FileRecord
from geom.errors import GeometryError, LayoutError, PanelFileError
from layouts.file.gestures import _KINDS
from layouts.panels.start_form import read_form
from layouts.replan.quick_plan import quick_plan

DEMOS = ("workshop-render", "laser-driver", "cupboard-server")


@pytest.mark.parametrize("name", DEMOS)
def test_plans_are_as_the_page_reads_them(name: str):
    plan = plan_demo(name)
    told = whole_told(plan, unbuilt_check(plan), plan.findings)
    assert find_misfits(told, "PlanTold") == []
    assert find_misfits(quick_told(quick_plan(plan.panel, None)), "PlanTold") == []


def test_problems_are_as_the_page_reads_them():
    failure = sample_failure()
    errors = (
        PanelFileError("p.toml:3: make.body: too thin\np.toml: no end"),
        LayoutError(failure),
        LayoutError(replace(failure, at=(float("nan"), 0.0))),
        LayoutError("no way"),
        GeometryError("no solid"),
    )
    for error in errors:
        assert find_misfits(problem_document(error, "p.toml"), "ProblemDoc") == []
    assert find_misfits(stopped_document("it died"), "ProblemDoc") == []
    assert find_misfits(failed_solid_document(3, "it died"), "FindingDoc") == []


def test_what_was_made_is_as_the_page_reads_it(tmp_path: Path):
    for name in ("panel.step", "report.json"):
        (tmp_path / name).write_bytes(b"x")
    made = made_document(
        (FileRecord("panel.step", "the solid", ""),), tmp_path, "", [failed_solid_document(0, "no")]
    )
    for document in (made, unmade_document("it was stopped")):
        assert find_misfits({"tell": "made", "revision": 1, **document}, "Tell") == []


def test_what_the_server_tells_is_as_the_page_reads_it():
    state = FileState(1, SeenFile("digest", "x = 1"), "x = 1")
    conflict = Conflict(1, "move", "a", "b", "edit", "c", "d", (1, 2))
    for told in (
        tells.tell_hello("p.toml"),
        tells.tell_file("p.toml", state),
        tells.tell_conflict(conflict),
        tells.tell_settled(1),
        tells.tell_done(1, 2, "moved"),
        tells.tell_refused(1, "no"),
        tells.tell_draft_refused(1, 2.0, "no"),
        tells.tell_unusable(1, "p.toml", "p.toml:3: not TOML"),
    ):
        assert find_misfits(told, "Tell") == [], told


def test_server_and_page_know_the_same_kinds_of_messages():
    """A kind that only one side knows: the page would not hear it, or wait for ever."""
    told = set()
    for path in Path(exports.page.__file__).parent.glob("*/*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Dict):
                told |= {
                    value.value
                    for key, value in zip(node.keys, node.values, strict=True)
                    if isinstance(key, ast.Constant)
                    and key.value == "tell"
                    and isinstance(value, ast.Constant)
                }
    assert told == {sample["tell"] for sample in _first_of("Tell")}


def _first_of(kind: str) -> list[dict[str, Any]]:
    """Return of each object in a union only the keys that are one text."""
    return [{name: samples[0] for name, samples in _literals(shape).items()} for shape in list_shapes(kind)]


def _literals(shape: Any) -> dict[str, list[Any]]:
    return {name: list_samples(of) for name, of, _ in shape.of if name in ("tell", "do")}


def test_every_wish_of_the_page_is_read():
    wishes = list_samples("Wish")
    assert {wish["do"] for wish in wishes} == set(_READERS)
    for wish in wishes:
        read_wish(json.dumps(_make_true(wish)))


def _make_true(wish: Any) -> Any:
    """Return a sample with the one thing that a type does not say: of a path the first step is a name."""
    if isinstance(wish, dict):
        return {key: ["part", 0] if key == "path" else _make_true(value) for key, value in wish.items()}
    return [_make_true(one) for one in wish] if isinstance(wish, list) else wish


def test_wishes_have_the_keys_that_the_page_sends():
    sent: dict[str, set[frozenset[str]]] = {}
    for shape in list_shapes("Wish"):
        keys = frozenset(name for name, _, _ in shape.of if name != "do")
        for do in _literals(shape)["do"]:
            sent.setdefault(do, set()).add(keys)
    assert sent == {do: {frozenset(keys) for keys in wanted} for do, (wanted, _) in _READERS.items()}


def test_server_file_and_page_know_the_same_edits():
    sent = {frozenset(name for name, _, _ in shape.of) for shape in list_shapes("Gesture")}
    assert sent == {frozenset(keys) for keys, _ in _GESTURES}
    assert sent == {frozenset(keys) for keys, _ in _KINDS.values()}


def test_a_form_of_the_page_is_read():
    forms = list(list_samples("StartForm"))
    assert forms
    for form in forms:
        assert read_form(form).name == form["name"]


# ---- The check itself ------------------------------------------------------------------------------------------------

TYPES = """
/** Words; { brackets } in them. */
export type Xy = [number, number];
export interface Leg { layer: "back" | "front"; points: Xy[]; more?: { a: number }[]; // of it
}
export type Told = | ({ tell: "leg" } & Leg) | { tell: "none"; why: string | null; by: Partial<Record<"x" | "y", Xy>> };
export interface Key { one: Leg["layer"][]; any: unknown; sure: boolean }
"""


@pytest.mark.parametrize(
    ("kind", "value", "misfit"),
    [
        ("Xy", [1, 2.5], ""),
        ("Xy", [1, 2, 3], "it: [1, 2, 3] is not tuple"),
        ("Xy", [1, True], "[1]: true is not number"),
        ("Xy", [1, float("nan")], "[1]: NaN is not number"),
        ("Told", {"tell": "leg", "layer": "back", "points": [[0, 0]]}, ""),
        ("Told", {"tell": "leg", "layer": "back", "points": [], "more": [{"a": 1}]}, ""),
        ("Told", {"tell": "leg", "layer": "back", "points": [], "more": [{}]}, ".more[0].a: is missing"),
        ("Told", {"tell": "leg", "layer": "side", "points": []}, '.layer: "side" is not "back" or "front"'),
        ("Told", {"tell": "leg", "layer": "back"}, ".points: is missing"),
        ("Told", {"tell": "leg", "layer": "back", "points": [], "z": 1}, ".z: not in messages.ts"),
        ("Told", {"tell": "none", "why": None, "by": {"x": [0, 0]}}, ""),
        ("Told", {"tell": "none", "why": "", "by": {"z": [0, 0]}}, '.by key: "z" is not "x" or "y"'),
        ("Key", {"one": ["back", "front"], "any": [None], "sure": False}, ""),
        ("Key", {"one": ["no"], "any": 1, "sure": False}, '.one[0]: "no" is not "back" or "front"'),
        ("Key", {"one": [], "any": 1, "sure": 0}, ".sure: 0 is not boolean"),
    ],
)
def test_misfits_are_found(kind: str, value: Any, misfit: str):
    assert find_misfits(value, kind, parse_types(TYPES)) == ([misfit] if misfit else [])


def test_samples_fit_their_types():
    for kind in read_types():
        if kind not in ("ChannelDoc", "PlanDoc", "PlanTold", "ProblemDoc", "Tell"):
            for sample in list_samples(kind):
                assert find_misfits(sample, kind) == []


def test_what_is_not_read_is_refused():
    with pytest.raises(AssertionError):
        parse_types("export type A = keyof B;")
