"""Routing instance files: what is wrong in one is told in one line, and nothing runs on it."""

import copy
import json

import pytest

from layouts.routing.__main__ import main
from layouts.routing.instance import read_instance

GOOD = {
    "columns": 20,
    "rows": 10,
    "layers": 1,
    "spacing": 1,
    "cost": {"step": 10, "bend": 20, "through": 30},
    "blocked": [[0, 0]],
    "channels": [
        {"name": "a", "ends": [[[1, 1]], [[8, 1], [8, 2]]]},
        {"name": "b", "ends": [[[1, 5]], [[8, 5]]], "straight_down": False},
    ],
}

MISSING = object()


def changed(keys, value):
    """Return the good instance as JSON text with one value, at dotted keys, put in or taken out."""
    data = copy.deepcopy(GOOD)
    *parents, last = keys
    place = data
    for key in parents:
        place = place[key]
    if value is MISSING:
        del place[last]
    else:
        place[last] = value
    return json.dumps(data)


CASES = {
    "negative step": (("cost", "step"), -10, "cost.step: read -10; expected a number from 0.001"),
    "no step": (("cost", "step"), 0, "cost.step: read 0;"),
    "step that rounding loses": (("cost", "step"), 1e-300, "cost.step: read 1e-300;"),
    "step true": (("cost", "step"), True, "cost.step: read true;"),
    "step as text": (("cost", "step"), "10", 'cost.step: read "10";'),
    "huge step": (("cost", "step"), 10**400, "cost.step: read 1000000"),
    "huge decimal": (("cost", "step"), 1e300, "cost.step: read 1e+300;"),
    "negative bend": (("cost", "bend"), -1, "cost.bend: read -1; expected a number from 0 to"),
    "bend not a number": (("cost", "bend"), float("nan"), "NaN is not a number of JSON"),
    "bend without end": (("cost", "bend"), float("inf"), "Infinity is not a number of JSON"),
    "unused cost not a number": (("cost", "through"), float("nan"), "NaN is not a number of JSON"),
    "no cost": (("cost",), MISSING, "cost: missing"),
    "cost a list": (("cost",), [1], "cost: read a list of 1; expected an object"),
    "no bend": (("cost", "bend"), MISSING, "cost.bend: missing"),
    "layers true": (("layers",), True, "layers: read true;"),
    "three layers": (("layers",), 3, "layers: read 3; expected a whole number from 1 to 2"),
    "through below nothing": (("cost", "through"), -1, "cost.through: read -1;"),
    "columns true": (("columns",), True, "columns: read true; expected a whole number"),
    "half a column": (("columns",), 20.5, "columns: read 20.5; expected a whole number"),
    "no columns": (("columns",), 0, "columns: read 0;"),
    "huge columns": (("columns",), 10**30, "columns: read 1000000"),
    "too many cells": (("rows",), 100_000, "columns: 20 x 100000 is 2000000 cells; at most 400000"),
    "no spacing": (("spacing",), 0, "spacing: read 0;"),
    "huge spacing": (("spacing",), 10**6, "spacing: read 1000000; expected a whole number from 1 to 100"),
    "blocked nothing": (("blocked",), None, "blocked: read null; expected a list"),
    "blocked not a cell": (("blocked", 0), [1, 2, 3], "blocked.1: read a list of 3; expected a cell"),
    "blocked a number": (("blocked", 0), 7, "blocked.1: read 7; expected a cell"),
    "blocked outside": (
        ("blocked", 0),
        [20, 0],
        "blocked.1.1: read 20; expected a whole number from 0 to 19",
    ),
    "cell below": (
        ("channels", 0, "ends", 1, 1),
        [8, -1],
        "channels.1.ends.2.2.2: read -1; expected a whole number from 0 to 9",
    ),
    "cell true": (("channels", 0, "ends", 0, 0), [True, 1], "channels.1.ends.1.1.1: read true;"),
    "cell of decimals": (("channels", 0, "ends", 0, 0), [1.0, 1], "channels.1.ends.1.1.1: read 1.0;"),
    "end not cells": (("channels", 0, "ends", 0), [1, 1], "channels.1.ends.1.1: read 1; expected a cell"),
    "end empty": (("channels", 0, "ends", 0), [], "channels.1.ends.1: a list of 0; expected 1 or more"),
    "one end": (("channels", 1, "ends"), [[[1, 5]]], "channels.2.ends: a list of 1; expected 2 or more"),
    "ends a text": (("channels", 1, "ends"), "xy", 'channels.2.ends: read "xy"; expected a list'),
    "no channels": (("channels",), [], "channels: a list of 0; expected 1 or more"),
    "channels an object": (("channels",), {"a": 1}, "channels: read an object; expected a list"),
    "channel a text": (("channels", 0), "a", 'channels.1: read "a"; expected an object'),
    "too many channels": (("channels",), [1] * 1001, "channels: read 1001; at most 1000"),
    "name twice": (("channels", 1, "name"), "a", 'channels.2.name: "a" stands twice'),
    "name a number": (("channels", 1, "name"), 3, "channels.2.name: read 3; expected a name"),
    "name a list": (("channels", 1, "name"), ["b"], "channels.2.name: read a list of 1;"),
    "name empty": (("channels", 1, "name"), " ", 'channels.2.name: read " ";'),
    "long name twice": (("channels", 1, "name"), 9 * "\n" + 900 * "x", None),
    "straight_down a number": (("channels", 1, "straight_down"), 1, "straight_down: read 1; expected true"),
}


def told(tmp_path, capsys, text):
    """Run the command on a file of this text; return exit code and what it told, checked to be one line."""
    path = tmp_path / "instance.json"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    code = main([str(path)])
    error = capsys.readouterr().err
    assert error.count("\n") == (1 if code == 2 else 0)
    assert len(error) < len(str(path)) + 250
    return code, error


@pytest.mark.parametrize(("keys", "value", "expected"), CASES.values(), ids=CASES.keys())
def test_bad_values_are_told_in_one_line(tmp_path, capsys, keys, value, expected):
    code, error = told(tmp_path, capsys, changed(keys, value))
    if expected is None:
        assert (code, error) == (0, "")
    else:
        assert code == 2
        assert expected in error


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "not a JSON routing instance"),
        ("[1]", "the file: read a list of 1; expected an object"),
        ("3", "the file: read 3; expected an object"),
        ("[" * 100_000, "nested too deeply"),
        ('{"layers": ' * 100_000, "nested too deeply"),
        ('{"layers": 1' + "0" * 5000 + "}", "not a JSON routing instance"),
        ('{"layers": 1e999}', "layers: read a number too large"),
        (b"\xff\xfe", "not a JSON routing instance"),
    ],
)
def test_files_that_are_no_instance_are_told_in_one_line(tmp_path, capsys, text, expected):
    code, error = told(tmp_path, capsys, text)
    assert code == 2
    assert expected in error


def test_files_that_cannot_be_read_are_told_in_one_line(tmp_path, capsys):
    for path in (tmp_path / "missing.json", tmp_path):
        assert main([str(path)]) == 2
        assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize("seed", ["-1", "x", "1.5", "1" * 5000])
def test_a_bad_seed_is_a_matter_of_usage(tmp_path, capsys, seed):
    with pytest.raises(SystemExit) as caught:
        main([str(tmp_path / "any.json"), f"--seed={seed}"])
    assert caught.value.code == 2
    assert "argument --seed: read" in capsys.readouterr().err


def test_a_good_instance_is_read_as_it_stands(tmp_path):
    path = tmp_path / "instance.json"
    path.write_text(json.dumps(GOOD))
    instance = read_instance(path)
    assert (instance.columns, instance.rows, instance.rates.step, instance.rates.bend) == (20, 10, 10.0, 20.0)
    assert [net.name for net in instance.nets] == ["a", "b"]
    assert [[t.cell for t in end] for end in instance.nets[0].ends] == [[21], [28, 48]]
    assert instance.blocked.sum() == 1


def layered():
    """Return the good instance in two layers."""
    data = copy.deepcopy(GOOD)
    data["layers"] = 2
    data["blocked"] = [[0, 0], [3, 2, 1]]
    data["channels"][0]["ends"] = [[[1, 1]], [[8, 1], [8, 1, 1]]]
    return data


def test_a_file_of_two_layers_is_read(tmp_path):
    path = tmp_path / "instance.json"
    path.write_text(json.dumps(layered()))
    instance = read_instance(path)
    assert (instance.layers, instance.cells, instance.rates.through) == (2, 400, 30)
    # A blocked [column, row] is blocked in both layers, one with a layer in that.
    assert [int(c) for c in instance.blocked[0].nonzero()[0]] == [0, 200, 200 + 2 * 20 + 3]
    assert [t.cell for t in instance.nets[0].ends[1]] == [28, 228]


@pytest.mark.parametrize(
    ("keys", "value", "expected"),
    [
        (("cost",), {"step": 10, "bend": 20}, "cost.through: missing; every routing instance has it"),
        (("blocked", 1), [3, 2, 2], "blocked.2.3: read 2; expected a whole number from 0 to 1"),
        (
            ("blocked", 1),
            [3],
            "blocked.2: read a list of 1; expected a cell: [column, row] or [column, row, layer]",
        ),
        (("channels", 0, "ends", 1, 1), [8, 1, True], "channels.1.ends.2.2.3: read true;"),
    ],
)
def test_bad_values_of_two_layers_are_told(tmp_path, capsys, keys, value, expected):
    data = layered()
    place = data
    for key in keys[:-1]:
        place = place[key]
    place[keys[-1]] = value
    code, error = told(tmp_path, capsys, json.dumps(data))
    assert code == 2
    assert expected in error
