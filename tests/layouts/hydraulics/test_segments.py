"""Elements: reversed flow, rising drops, parts by points, refused sizes."""

import math
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.errors import OutOfRange
from layouts.hydraulics.area_changes import loss_entrance, loss_exit
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.friction import friction_factor
from layouts.hydraulics.losses import loss_bend, loss_bore_to_channel
from layouts.hydraulics.pump import head_pressure_pa
from layouts.hydraulics.segments import (
    Bend,
    Bore,
    PartResistance,
    PortTurn,
    PumpCurve,
    Straight,
    TankEntry,
    TankExit,
    drop_band,
    drop_kind,
    drop_pa,
    find_area_m2,
    reynolds,
    velocity,
)

L_MIN = 1e-3 / 60
WATER = Coolant("water", 0.0, 25.0, 997.05, 890.1e-6, 4181.3, 3169.9, 0.0)
ELEMENTS = [
    Straight(0.1, 0.008, 0.006),
    Bore(0.02, 0.010),
    Bend(0.014, 0.008, 0.006),
    Bend(0.0, 0.008, 0.006),
    PortTurn("bore_to_channel", 0.010, 0.008, 0.006),
    PortTurn("channel_to_bore", 0.004, 0.008, 0.006),
    TankExit(0.008, 0.006),
    TankEntry(0.008, 0.006),
    PartResistance(((4 * L_MIN, 6e3),)),
    PartResistance(((0.0, 0.0), (2 * L_MIN, 5.5e3), (4 * L_MIN, 2e4), (5 * L_MIN, 2.1e4))),
]
PUMP = PumpCurve(((0.0, 3.9), (4 * L_MIN, 3.3), (12 * L_MIN, 0.8)))
flows = st.floats(-20.0, 20.0).map(lambda q: q * L_MIN)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(ELEMENTS), flows)
def test_drop_turns_with_the_flow_and_rises(element, flow):
    drop = drop_pa(element, flow, WATER)
    assert drop_pa(element, -flow, WATER) == -drop
    step = 1e-6 * abs(flow) + 1e-12
    above = drop_pa(element, flow + step, WATER)
    assert above >= drop
    assert above - drop <= 1e-4 * abs(drop) + 1.0


@pytest.mark.parametrize("element", ELEMENTS)
def test_no_flow_no_drop(element):
    assert drop_pa(element, 0.0, WATER) == 0.0


def test_drops_are_their_formulas():
    flow = 4 * L_MIN
    straight = Straight(0.5, 0.008, 0.006)
    re, head = reynolds(straight, flow, WATER), 0.5 * WATER.density_kg_m3 * velocity(straight, flow) ** 2
    across = 2 * 0.008 * 0.006 / 0.014
    gradient = friction_factor(re, 0.75) / across * head
    assert drop_pa(straight, flow, WATER) == pytest.approx(0.5 * gradient)
    bend = 0.014 * math.pi / 2 * gradient + loss_bend(re, 0.014 / 0.008, 0.75) * head
    assert drop_pa(Bend(0.014, 0.008, 0.006), flow, WATER) == pytest.approx(bend)
    turn = PortTurn("bore_to_channel", 0.010, 0.008, 0.006)
    ratio = 0.010 / math.sqrt(0.008 * 0.006)
    assert drop_pa(turn, flow, WATER) == pytest.approx(loss_bore_to_channel(re, ratio) * head)
    assert drop_pa(TankExit(0.008, 0.006), flow, WATER) == pytest.approx(loss_entrance(re, 0.75) * head)
    assert drop_pa(TankEntry(0.008, 0.006), flow, WATER) == pytest.approx(loss_exit(re, 0.75) * head)
    assert drop_pa(PUMP, flow, WATER) == pytest.approx(-head_pressure_pa(3.3, WATER))


def test_part_meets_its_points_and_follows_the_square_beyond():
    one, many = ELEMENTS[-2], ELEMENTS[-1]
    assert drop_pa(one, 2 * L_MIN, WATER) == pytest.approx(1.5e3)
    for flow, drop in many.points:
        assert drop_pa(many, flow, WATER) == pytest.approx(drop)
    assert drop_pa(many, 1 * L_MIN, WATER) == pytest.approx(5.5e3 / 4)
    assert drop_pa(many, 10 * L_MIN, WATER) == pytest.approx(4 * 2.1e4)


def test_pump_keeps_its_shut_off_head_at_reverse_flow():
    assert drop_pa(PUMP, -5 * L_MIN, WATER) == pytest.approx(-head_pressure_pa(3.9, WATER))


def test_kinds():
    kinds = [drop_kind(element) for element in (*ELEMENTS, PUMP)]
    assert kinds == ["straight"] * 2 + ["bends"] * 2 + ["turns"] * 4 + ["part"] * 2 + ["pump"]


def test_bands_lie_between_those_of_the_terms():
    assert drop_band(ELEMENTS[0], 1e-4 * L_MIN, WATER) == 0.02
    assert drop_band(ELEMENTS[0], 6 * L_MIN, WATER) == 0.08
    assert 0.08 < drop_band(ELEMENTS[2], 6 * L_MIN, WATER) < 0.30
    assert 0.15 < drop_band(ELEMENTS[4], 6 * L_MIN, WATER) < 0.35
    assert drop_band(PUMP, 6 * L_MIN, WATER) == 0.0
    assert drop_band(ELEMENTS[8], 0.0, WATER) == pytest.approx(0.10)


def test_areas():
    assert find_area_m2(Bore(0.0, 0.010)) == pytest.approx(math.pi * 25e-6)
    assert find_area_m2(ELEMENTS[4]) == pytest.approx(48e-6)
    assert velocity(Bore(1.0, 0.01), -math.pi * 25e-6) == pytest.approx(-1.0)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Straight(-0.1, 0.008, 0.006), "Straight: length -0.1 m must be 0 or more"),
        (lambda: Straight(0.1, 0.0, 0.006), "width 0 m must be greater"),
        (lambda: Bore(0.1, float("nan")), "diameter nan"),
        (lambda: Bend(-0.01, 0.008, 0.006), "radius"),
        (lambda: PortTurn("sideways", 0.01, 0.008, 0.006), "sideways"),
        (lambda: TankExit(0.008, -1.0), "depth"),
        (lambda: TankEntry(float("inf"), 0.006), "width inf"),
        (lambda: PartResistance(()), "no point beside the origin"),
        (lambda: PartResistance(((0.0, 0.0),)), "no point beside the origin"),
        (lambda: PartResistance(((1.0, 5.0), (2.0, 4.0))), "must not fall"),
        (lambda: PartResistance(((2.0, 5.0), (1.0, 6.0))), "flow must rise"),
        (lambda: PartResistance(((1.0, 0.0),)), "every drop is 0"),
        (lambda: PumpCurve(((0.0, 1.0), (1.0, 2.0))), "rises"),
    ],
)
def test_refused(make, says):
    with pytest.raises(OutOfRange, match=says):
        make()


def test_hydraulics_loads_neither_scipy_nor_property_library_nor_kernel():
    program = (
        "import sys, layouts.hydraulics.network;"
        "heavy = {'scipy', 'CoolProp', 'fluids', 'cadquery', 'OCP', 'trimesh', 'numba', 'pydantic'};"
        "sys.exit(', '.join(heavy & {name.split('.')[0] for name in sys.modules}) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", program], check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
