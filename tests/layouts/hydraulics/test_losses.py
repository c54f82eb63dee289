"""Losses of turns are continuous in Reynolds number and shape, meet their tables, and never let a drop fall."""

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics import losses
from layouts.hydraulics.interpolation import find_slopes, interpolate_monotone
from layouts.hydraulics.losses import (
    loss_bend,
    loss_bore_to_channel,
    loss_channel_to_bore,
    loss_round_bend,
    loss_sharp_bend,
    trace_bend,
    trace_port_turn,
)
from layouts.hydraulics.turn_table import RE_KNOTS, read_loss

DATA = Path(losses.__file__).parent / "data"
TURNS = {
    "bend": loss_bend,
    "bore_to_channel": loss_bore_to_channel,
    "channel_to_bore": loss_channel_to_bore,
}
res = st.floats(math.log(1.0), math.log(1e6)).map(math.exp)
ratios = st.floats(0.2, 6.0)


def read_rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def test_every_row_is_met_and_names_its_source():
    rows = read_rows("turn_losses.csv")
    assert len(rows) >= 60
    for row in rows:
        assert len(row["source"]) > 20
        value = TURNS[row["turn"]](float(row["reynolds"]), float(row["ratio"]))
        assert value == pytest.approx(float(row["loss"]), rel=1e-9)


def test_handbook_rows_are_met_and_name_their_source():
    for row in read_rows("mitred_elbow.csv"):
        assert row["source"].startswith("ASHRAE")
        if row["quantity"] == "reynolds":
            assert loss_sharp_bend(float(row["argument"])) == pytest.approx(1.2 * float(row["factor"]))
        else:
            assert loss_sharp_bend(2e5, float(row["argument"])) == pytest.approx(float(row["factor"]))
    for row in read_rows("rounded_elbow.csv"):
        assert row["source"].startswith(("ASHRAE", "Idelchik"))
        argument, factor = float(row["argument"]), float(row["factor"])
        if row["quantity"] == "radius_over_width":
            assert loss_round_bend(3e5, argument) == pytest.approx(factor)
        elif row["quantity"] == "reynolds":
            assert loss_round_bend(argument, 1.0) == pytest.approx(0.21 * factor)
        else:
            assert loss_round_bend(3e5, 1.0, argument) == pytest.approx(0.21 * factor)


@settings(max_examples=200, deadline=None)
@given(res, ratios, st.sampled_from(sorted(TURNS)))
def test_turns_are_continuous_and_their_drop_never_falls(re, ratio, turn):
    here, there = (TURNS[turn](x, ratio) for x in (re, re * (1 + 1e-6)))
    assert here >= 0
    assert there == pytest.approx(here, rel=1e-4, abs=1e-5 / ratio**4)
    assert there * (1 + 1e-6) ** 2 >= here * (1 - 1e-12)


@settings(max_examples=200, deadline=None)
@given(res, st.floats(0.2, 6.0), st.sampled_from(sorted(TURNS)))
def test_turns_are_continuous_in_shape(re, ratio, turn):
    here, there = (TURNS[turn](re, x) for x in (ratio, ratio * (1 + 1e-6)))
    assert there == pytest.approx(here, rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("edge", [0.75, 1.0, 1.25, 1.5, 2.0])
@pytest.mark.parametrize("turn", sorted(TURNS))
def test_ends_of_the_table_join(edge, turn):
    for re in (60.0, 450.0, 3000.0, 9000.0, 1.7e4, 5e4):
        below, above = (TURNS[turn](re, edge * x) for x in (1 - 1e-9, 1 + 1e-9))
        assert above == pytest.approx(below, rel=1e-6)


@settings(max_examples=100, deadline=None)
@given(res, st.floats(0.05, 20.0))
def test_closed_sharp_bend_is_continuous(re, depth_ratio):
    here, there = (loss_sharp_bend(x, depth_ratio) for x in (re, re * (1 + 1e-6)))
    assert there == pytest.approx(here, rel=1e-4, abs=1e-5)


def test_creeping_flow_and_handbook_ends():
    for turn in TURNS.values():
        assert turn(0.0, 1.0) == turn(15.0, 1.0) == 0.0
        assert 0 < turn(21.0, 1.0) < 0.05
    assert loss_bend(3e4, 0.0) == pytest.approx(loss_sharp_bend(3e4))
    assert loss_bend(6e4, 1.5) == pytest.approx(loss_round_bend(6e4, 1.5))
    assert loss_bend(6e4, 5.0) == pytest.approx(loss_round_bend(6e4, 5.0))


def test_wider_radius_and_wider_bore_cost_less():
    for re in (200.0, 800.0, 3000.0, 8000.0):
        bends = [loss_bend(re, ratio) for ratio in (0.0, 0.4, 0.75, 1.0, 1.5, 2.0, 3.0, 6.0)]
        assert bends == sorted(bends, reverse=True)
        for turn in (loss_bore_to_channel, loss_channel_to_bore):
            bores = [turn(re, ratio) for ratio in (0.6, 0.8, 1.0, 1.2, 1.5, 2.0, 4.0)]
            assert bores == sorted(bores, reverse=True)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.05, 1.0), st.floats(1.01, 3.0), st.sampled_from(["bore_to_channel", "channel_to_bore"]))
def test_wider_channel_on_a_small_bore_costs_no_more(ratio, factor, turn):
    """The same bore at the same flow, its channel wider (and square still)."""
    re = 9000.0
    here = TURNS[turn](re * ratio, ratio) * ratio**4
    wider = TURNS[turn](re * ratio / factor, ratio / factor) * (ratio / factor) ** 4
    assert wider <= here * (1 + 1e-3)


@settings(max_examples=100, deadline=None)
@given(st.floats(1.0, 1e5), st.floats(0.0, 6.0), st.floats(0.25, 4.0), st.booleans())
def test_bends_cost_no_more_than_sharp_ones(re, ratio, depth_ratio, close):
    rounded, sharp = (trace_bend(x, depth_ratio, close) for x in (ratio, 0.0))
    # Capped at every knot; between two of them the curves may cross by a trifle.
    assert read_loss(rounded, re) <= read_loss(sharp, re) * (1 + 2e-3)
    assert read_loss(trace_bend(ratio, depth_ratio, not close), re) == read_loss(rounded, re)


def test_bands_of_turns():
    for turn in ("bore_to_channel", "channel_to_bore"):
        for ratio in (0.3, 0.99, 1.2, 1.5, 1.6, 4.0):
            bands = trace_port_turn(turn, ratio).bands
            assert all(0.15 <= band <= 0.35 for band in bands)
            assert min(trace_port_turn(turn, ratio, True).bands) == 0.40
    at = dict(zip(RE_KNOTS, trace_bend(1.5).bands, strict=True))
    assert (at[100.0], at[1000.0], at[8000.0]) == pytest.approx((0.30, 0.15, 0.30))
    assert at[2.0e5] == pytest.approx(0.25)
    assert max(trace_bend(0.0).bands[RE_KNOTS.index(300.0) :]) == pytest.approx(0.15)


def test_very_wide_bore_is_a_tank():
    assert loss_bore_to_channel(8000.0, 12.0) == pytest.approx(0.5, rel=0.01)
    assert loss_channel_to_bore(8000.0, 12.0) == pytest.approx(1.0, rel=0.01)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.0, 10.0), min_size=2, max_size=8), st.booleans(), st.floats(0.0, 1.0))
def test_interpolation_stays_between_its_points(steps, rising, place):
    y = np.cumsum(steps) * (1.0 if rising else -1.0)
    x = np.arange(len(y), dtype=float) ** 1.5
    at = place * x[-1]
    i = min(int(np.searchsorted(x, at, side="right")) - 1, len(x) - 2)
    value = float(interpolate_monotone(at, x, y))
    low, high = sorted((y[i], y[i + 1]))
    assert low - 1e-9 <= value <= high + 1e-9
    assert np.all(find_slopes(x, y) * (1.0 if rising else -1.0) >= 0)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: loss_bend(-1.0, 1.0), "Re must be 0 or more"),
        (lambda: loss_bend(100.0, -1.0), "radius ratio -1"),
        (lambda: loss_bend(100.0, 1.0, 0.0), "ratio above 0"),
        (lambda: loss_bore_to_channel(100.0, 0.0), "bore into channel"),
        (lambda: loss_channel_to_bore(-5.0, 1.0), "channel into bore"),
        (lambda: loss_round_bend(0.0, 1.0), "above 0"),
    ],
)
def test_refused(call, says):
    with pytest.raises(OutOfRange, match=says):
        call()
