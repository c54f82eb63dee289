"""Pumps and operating points against worked examples and closed forms."""

import math

import pytest
from iapws import IAPWS95
from printed import assert_as_printed

from layouts.hydraulics.coolant import Coolant, coolant_properties
from layouts.hydraulics.network import Edge, Network, operating_point, solve_network
from layouts.hydraulics.pump import (
    combine_parallel,
    combine_series,
    head_pressure_pa,
    hydraulic_power_w,
    pump_head_m,
    scale_affinity,
)
from layouts.hydraulics.segments import PartResistance, PumpCurve

L_MIN = 1e-3 / 60


@pytest.fixture(autouse=True)
def computed_anew(tmp_path, monkeypatch):
    """Keep remembered answers of earlier runs out of the comparison."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))


def make_curve(
    shut_off: float, factor: float, most: float, count: int = 25
) -> tuple[tuple[float, float], ...]:
    """Return points of H = shut_off - factor Q^2, Q in L/min."""
    flows = [most * i / (count - 1) for i in range(count)]
    return tuple((q * L_MIN, shut_off - factor * q * q) for q in flows)


@pytest.mark.published(
    source="Cengel and Cimbala, Fluid Mechanics, pump problem: 7.46 - 0.0453 Q2 against 3.52 + 0.0261 Q2: 7.428 L/min"
)
def test_operating_point():
    flow, head = operating_point(make_curve(7.46, 0.0453, 12.0), lambda q: 3.52 + 0.0261 * (q / L_MIN) ** 2)
    assert_as_printed(flow / L_MIN, "7.428", rel=1e-3)
    assert_as_printed(head, "4.960", rel=1e-3)


SINGLE = make_curve(3.0, 0.05, 7.5)


@pytest.mark.published(
    source="Rule for equal pumps: series 2 H0 - 2 k Q2, parallel H0 - (k/4) Q2 (midstreamcalculator.com, pumps)"
)
@pytest.mark.parametrize(
    ("curve", "flow_printed", "head_printed"),
    [
        (SINGLE, "4.4721", "2.0000"),
        (combine_series([SINGLE, SINGLE]), "5.4772", "3.0000"),
        (combine_parallel([SINGLE, SINGLE]), "5.1640", "2.6667"),
    ],
    ids=["single", "series", "parallel"],
)
def test_equal_pumps_on_a_closed_loop(curve, flow_printed, head_printed):
    flow, head = operating_point(curve, lambda q: 0.10 * (q / L_MIN) ** 2)
    assert_as_printed(flow / L_MIN, flow_printed, rel=5e-5)
    assert_as_printed(head, head_printed, rel=5e-5)


@pytest.mark.published(source="Affinity laws: flow with the speed, head with its square, power with its cube")
def test_slower_pump_on_a_closed_loop():
    def system(flow: float) -> float:
        return 0.10 * (flow / L_MIN) ** 2

    water = coolant_properties("water", 0.0, 20.0)
    flow, head = operating_point(SINGLE, system)
    slow_flow, slow_head = operating_point(scale_affinity(SINGLE, 0.8), system)
    assert_as_printed(slow_flow / L_MIN, "3.5777", rel=5e-5)
    assert_as_printed(slow_head, "1.280", rel=1e-4)
    power = hydraulic_power_w(slow_flow, slow_head, water) / hydraulic_power_w(flow, head, water)
    assert_as_printed(power, "0.512", rel=1e-3)


@pytest.mark.published(source="IAPWS-95 density (library iapws) times standard gravity 9.80665 m/s2; 0.02 %")
@pytest.mark.parametrize(("celsius", "printed"), [(20.0, "9789.1"), (25.0, "9777.7")])
def test_head_to_pressure(celsius, printed):
    pressure = head_pressure_pa(1.0, coolant_properties("water", 0.0, celsius))
    assert_as_printed(pressure, printed)
    assert pressure == pytest.approx(IAPWS95(T=celsius + 273.15, P=0.101325).rho * 9.80665, rel=2e-5)


@pytest.mark.published(source="Hydraulic power is flow times pressure: 1 US gal/min at 30 kPa is 1.893 W")
def test_hydraulic_power():
    water = coolant_properties("water", 0.0, 20.0)
    assert_as_printed(hydraulic_power_w(4 * L_MIN, 2.0, water), "1.305", rel=1e-3)
    head = 30e3 / head_pressure_pa(1.0, water)
    assert_as_printed(hydraulic_power_w(3.785412 * L_MIN, head, water), "1.893", rel=1e-3)


@pytest.mark.published(source="Closed form of H = c - d Q2 against b Q2: Q = sqrt(c / (b + d))")
@pytest.mark.parametrize(
    ("shut_off", "pump", "loop"), [(3.9, 0.02, 0.05), (2.0, 0.01, 0.3), (6.0, 0.2, 0.01)]
)
def test_network_meets_the_closed_form(shut_off, pump, loop):
    water = Coolant("water", 0.0, 20.0, 998.207, 1.0016e-3, 4184.1, None, None)
    curve = PumpCurve(make_curve(shut_off, pump, 0.99 * math.sqrt(shut_off / pump)))
    drop = head_pressure_pa(loop, water)
    network = Network(
        (
            Edge("pump", "tank", "out", (curve,)),
            Edge("loop", "out", "tank", (PartResistance(((L_MIN, drop),)),)),
        )
    )
    flow = solve_network(network, water).flow_m3_s["loop"]
    assert flow / L_MIN == pytest.approx(math.sqrt(shut_off / (pump + loop)), rel=1e-4)


@pytest.mark.published(
    source="Unlike pumps in series add their heads, in parallel their flows: common practice, no source"
)
def test_unlike_pumps():
    weak = make_curve(2.0, 0.08, 5.0)
    flow = 3.0 * L_MIN
    series = combine_series([SINGLE, weak])
    assert pump_head_m(series, flow) == pytest.approx((3 - 0.45) + (2 - 0.72), rel=1e-4)
    parallel = combine_parallel([SINGLE, weak])
    both = (math.sqrt((3 - 1.5) / 0.05) + math.sqrt((2 - 1.5) / 0.08)) * L_MIN
    assert pump_head_m(parallel, both) == pytest.approx(1.5, rel=1e-3)
