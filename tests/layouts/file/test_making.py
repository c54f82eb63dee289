"""What a file may say of cutters, printer and prices: limits, units, and advice that can be followed."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from geom.errors import PanelFileError
from layouts.file.read import parse_panel
from layouts.panel import Panel

GOOD = Path(__file__).parents[1].joinpath("bench.toml").read_text("utf-8")
PRINTED = (
    GOOD.replace('method = "milled"', 'method = "printed"')
    .replace('cutter = "6 mm"\n', "")
    .replace('"PMMA cast"', '"PETG"')
)


def read(table: str, whole: str = GOOD) -> Panel:
    return parse_panel(f"{whole}\n{table}\n".encode(), "bench.toml")


def problem(table: str, whole: str = GOOD) -> str:
    with pytest.raises(PanelFileError) as caught:
        read(table, whole)
    (told,) = caught.value.problems
    return told


def test_speed_of_the_spindle_has_its_unit():
    assert read('[milling]\nspeed = "18000 rpm"').milling.speed_rpm == 18000.0
    assert "18000 has no unit" in problem("[milling]\nspeed = 18000")
    assert "at most 200000 rpm" in problem('[milling]\nspeed = "300000 rpm"')
    assert "at least 100 rpm" in problem('[milling]\nspeed = "99 rpm"')


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('layer = "3 mm"', "at most 1 mm"),
        ('layer = "0.005 mm"', "at least 0.01 mm"),
        ('line_width = "40 mm"', "at most 2 mm"),
        ('line_width = "0.05 mm"', "at least 0.1 mm"),
        ('port_threads = "printed"\nthread_clearance = "1.4 mm"', "at most 1 mm"),
        ('layer = "0.3 mm"\nline_width = "0.25 mm"', "layers of 0.3 mm in lines 0.25 mm wide do not hold"),
        ('layer = "0.5 mm"', "layers of 0.5 mm in lines 0.45 mm wide do not hold"),
        ('line_width = "0.15 mm"', "layers of 0.2 mm in lines 0.15 mm wide do not hold"),
    ],
)
def test_what_no_printer_does_is_refused(line: str, told: str):
    assert told in problem(f"[printing]\n{line}", PRINTED)


def test_what_printers_do_is_read():
    coarse = read('[printing]\nline_width = "0.8 mm"\nlayer = "0.8 mm"', PRINTED).printing
    assert (coarse.line_width, coarse.layer) == (0.8, 0.8)
    assert read('[printing]\nprocess = "resin"\nlayer = "0.5 mm"', PRINTED).printing.layer == 0.5


def test_cutters_are_some_and_no_slips_of_the_unit():
    assert "expected at least 1" in problem("[milling]\ncutters = []")
    told = problem('[milling]\ncutters = [{ diameter = "0.001 mm" }, { diameter = "6 mm" }]')
    assert "at least 0.1 mm" in told
    assert "at least 0.1 mm" in problem("", GOOD.replace('cutter = "6 mm"', 'cutter = "0.05 mm"'))


def test_a_cutter_is_advised_only_where_it_goes_into_the_channels():
    """The channels are 8 mm wide: a cutter of 10 mm cannot be the one of [make]."""
    told = problem('[milling]\ncutters = [{ diameter = "10 mm" }]')
    assert told.endswith("add it: none of them goes into a channel of 8 mm")
    told = problem('[milling]\ncutters = [{ diameter = "10 mm" }, { diameter = "5 mm" }]')
    assert told.endswith("add it, or set cutter to one that goes into the channels: 5 mm")
    # As advised it is read.
    fitting = GOOD.replace('cutter = "6 mm"', 'cutter = "5 mm"')
    read('[milling]\ncutters = [{ diameter = "10 mm" }, { diameter = "5 mm" }]', fitting)


def test_an_example_is_written_as_toml_reads_it():
    told = problem('[prices]\ncurrency = "EUR"\nfitting_each = 4.2')
    example = told[told.index("{") :]
    assert tomllib.loads(f"fitting_each = {example}") == {"fitting_each": {"G1/4": 4.2}}
