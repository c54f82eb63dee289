"""Ranges, remembering and damage of the coolant's answers."""

import json
import os
import subprocess
import sys

import pytest

from geom.errors import OutOfRange
from layouts.hydraulics import coolant
from layouts.hydraulics.coolant import coolant_properties, temperature_rise_k


@pytest.fixture
def cache(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return tmp_path / "cache" / "rillplate"


@pytest.mark.parametrize(
    ("fluid", "fraction", "celsius", "says"),
    [
        ("oil", 0.0, 20.0, '"oil" is not known.*ethylene glycol'),
        ("water", 0.3, 20.0, "0.3 must be 0"),
        ("water", 0.0, -1.0, "-1 °C is outside 0.01 °C.*99.97"),
        ("water", 0.0, 100.5, "outside"),
        ("ethylene glycol", 0.7, 20.0, "0.7 is outside 0 to 0.6"),
        ("ethylene glycol", -0.1, 20.0, "-0.1 is outside"),
        ("propylene glycol", 0.3, -20.0, "-20 °C is outside -12.79 °C"),
        ("propylene glycol", 0.3, 101.0, "100.00 °C"),
        ("water", 0.0, float("nan"), "not a number"),
    ],
)
def test_range_is_told(cache, fluid, fraction, celsius, says):
    with pytest.raises(OutOfRange, match=says):
        coolant_properties(fluid, fraction, celsius)
    assert not cache.exists()


def test_answer_is_remembered_and_identical(cache, monkeypatch):
    first = coolant_properties("ethylene glycol", 0.3, 25.0)
    assert len(list(cache.iterdir())) == 1
    monkeypatch.setattr(coolant, "_compute_properties", lambda *_: pytest.fail("was not remembered"))
    assert coolant_properties("ethylene glycol", 0.3, 25.0) == first


def test_remembered_answer_needs_no_property_library(cache):
    coolant_properties("water", 0.0, 35.0)
    program = (
        "import sys; from layouts.hydraulics.coolant import coolant_properties;"
        "coolant_properties('water', 0.0, 35.0); sys.exit('CoolProp' in sys.modules)"
    )
    subprocess.run([sys.executable, "-c", program], check=True, env=dict(os.environ))


@pytest.mark.parametrize(
    "damage",
    [
        b"",
        b"{",
        b"[]",
        b"\xff\xfe",
        b'{"fluid": "water"}',
        "density_kg_m3",
        "viscosity_pa_s",
        "temperature_c",
        "vapour_pressure_pa",
    ],
)
def test_damaged_memory_is_computed_anew(cache, damage):
    good = coolant_properties("water", 0.0, 20.0)
    (file,) = cache.iterdir()
    if isinstance(damage, str):
        wrong = float("nan") if damage == "vapour_pressure_pa" else -1.0
        file.write_text(json.dumps({**json.loads(file.read_text()), damage: wrong}))
    else:
        file.write_bytes(damage)
    assert coolant_properties("water", 0.0, 20.0) == good
    assert coolant_properties("water", 0.0, 20.0) == good


def test_folder_that_cannot_be_written_costs_only_time(tmp_path, monkeypatch):
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    monkeypatch.setenv("XDG_CACHE_HOME", str(blocked))
    assert coolant_properties("water", 0.0, 20.0).density_kg_m3 == pytest.approx(998.207, abs=1e-3)
    assert blocked.read_text() == "not a folder"


def test_relative_cache_folder_is_ignored(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_CACHE_HOME", "here")
    coolant_properties("water", 0.0, 20.0)
    assert not (tmp_path / "here").exists()
    assert any(path.name.startswith("coolant-") for path in (tmp_path / "home").rglob("*"))


def test_rise_needs_flow():
    water = coolant.Coolant("water", 0.0, 20.0, 998.0, 1e-3, 4180.0, None, None)
    with pytest.raises(OutOfRange, match="greater than 0"):
        temperature_rise_k(100.0, 0.0, water)
