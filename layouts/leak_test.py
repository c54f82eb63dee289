"""The leak test of a panel: how much air at which pressure, how long, and which leak that tells; the test with water.

First the panel by itself, then the whole loop, both dry. A gauge also falls where the air cools or the barometer rises:
both are known, and what is left counts as a leak once it is more than gauge and thermometer can be wrong. A panel whose
strength nothing tells is not tested with air at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from geom.standards import tables
from geom.units import bar, kelvin
from layouts.faces import joints_of
from layouts.feed import FILL_C, HOSES, growth_share, outside_volume_ml, tank_volume_ml
from layouts.hydraulics.compressed_air import (
    cooling_time_s,
    drift_pa_k,
    leaked_ml_min,
    liquid_energy_j,
    locked_pa_k,
    orifice_share,
    stored_energy_j,
    viscous_share,
    warmed_k,
)
from layouts.hydraulics.coolant import coolant_properties
from layouts.panel import Panel
from layouts.plan import PlacedPort, Plan
from layouts.strength.working_pressure import find_working_pressure
from layouts.wet_volume import MM3_PER_ML, channel_volume_ml

MOST_AIR_PA = 0.5e5
"""Most pressure for a test with air, over the air around, [Pa]; common practice, no source. Strength is proven with
water."""

GAUGE_PA = 1000.0
"""What is read off a gauge for so little pressure, [Pa]; common practice, no source."""

THERMOMETER_K = 0.5
"""How far the difference of two readings of one thermometer may be wrong, [K]; common practice, no source."""

BAROMETER_PA_H = 200.0
"""Most that the barometer changes in an hour short of "very rapidly", [Pa/h]: 6.0 hPa in three hours, glossary of the
United Kingdom's marine forecasts."""

DROP_ML = 0.05
"""Volume of a drop of water, [mL]: twenty to a millilitre, pharmacists' measure."""

TOLD_DROPS_H = 1.0
"""The leak to be told, in drops of coolant an hour in use: a cloth under it is wet by the next day; common practice, no
source."""

LEAST_HOLD_MIN, MOST_HOLD_MIN = 15, 60
"""How long the pressure is held, [min]: 15 to 30 is common practice, no source; beyond an hour the room drifts more
than the leak."""

HOLD_STEP_MIN = 5

SETTLE_MIN = 10
"""Wait before the first reading, [min]: soft hoses still stretch; common practice, no source."""

COOLED_K = 0.1
"""Air this near to its walls counts as being as cool as they are, [K]."""

HEAT_J_M3K: dict[str, float] = {"plastic": 1.8e6, "metal": 2.5e6}
"""Heat that a volume takes up, [J/(m3 K)]: acrylic 1.7, polycarbonate 1.4, PETG 1.6, aluminium 2.4, brass 3.2 million;
handbook values, recalled."""

ROOM_W_M2K = 10.0
"""Heat from a plate to the room, [W/(m2 K)]: free convection and radiation; common practice, no source."""

FOLLOWED = 3.0
"""Time constants after which a plate has the room's temperature, to a twentieth of what it was off."""

WET_TEST_H = 24
"""How long the filled loop runs on paper, [h]: all else unplugged, the pump on a supply of its own; common practice, no
source."""

WATER_C = (20.0, 25.0)
"""Between these a room's water is warmed while it is shut in, [°C]."""

GAUGE_BAR = (0.6, 1.0, 1.6, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 40.0, 60.0, 100.0)
"""Full scales of gauges, [bar]; EN 837-1, recalled."""

SCALE_SHARE = 0.75
"""A gauge is read up to so much of its full scale under a steady pressure, [-]; EN 837-2, recalled."""

GAUGE_ROLES = ("fill", "drain", "bleed")
"""Ports that take the test fitting with its gauge, the first that there is."""

STRENGTH_CODES = (
    "cover.bow",
    "cover.stress",
    "cover.thick",
    "floor.thick",
    "screw.thread",
    "screw.head",
    "screw.length",
    "cover.screws",
    "bond.land",
    "bond.pull",
    "bond.material",
    "wall.thin",
    "wall.floor",
    "wall.breach",
    "print.wall",
    "print.split",
)
"""Checks that the panel holds its test pressure: where the file accepts one of these, nothing says that it does."""


@dataclass(frozen=True, slots=True)
class AirTest:
    """One test with air.

    Parameters
    ----------
    what : {"panel alone", "whole loop"}
    volume_ml : float
        Of the air shut in, as far as it is known, [mL].
    unknown : tuple of str
        Parts whose volume is not known ("hoses" with them): with them there is more air, and a leak shows less.
    energy_j : float
        That the compressed air holds, [J].
    hold_min : int
        [min]
    allowed_pa : float
        What the reading may fall once it is corrected for temperature, [Pa]; more counts as a leak.
    told_ml_min : float
        The smallest leak that this tells, of air at atmospheric pressure, [mL/min].
    drops_h, most_drops_h : float
        What such a leak lets out in use, in drops of coolant an hour: if it is long and fine, and at the very most.
    """

    what: Literal["panel alone", "whole loop"]
    volume_ml: float
    unknown: tuple[str, ...]
    energy_j: float
    hold_min: int
    allowed_pa: float
    told_ml_min: float
    drops_h: float
    most_drops_h: float


@dataclass(frozen=True, slots=True)
class LeakTest:
    """How a panel is tested for leaks.

    Parameters
    ----------
    pressure_pa : float
        Of the air, over the air around, [Pa]: the file's test pressure, no more than `MOST_AIR_PA`.
    file_pa : float
        The file's test pressure, at which the panel's strength is checked, [Pa].
    working_pa : float
        The most that the panel sees in use, [Pa].
    water_pa : float
        Of a test with water, [Pa]: the larger of both; that in use where checks of strength are accepted.
    air : tuple of AirTest
        In their order; none where checks of strength are accepted.
    gauge_port : str
        Port that takes the test fitting.
    plugged : tuple of PlacedPort
        Ports that are open in use and get plugs for the test of the panel alone.
    drift_pa_k : float
        What the gauge falls for each kelvin that the air cools, [Pa/K].
    barometer_pa_h : float
        What it may change by itself because the barometer does, [Pa/h].
    warms_k : float
        How much air warms that is pumped in at once, [K].
    falls_pa : float
        What the gauge then falls until that heat is gone, [Pa].
    air_cools_s : float
        How long the air in the widest room of the panel takes for that, [s].
    settle_min : int
        Wait before the first reading, [min].
    lies_h : float
        How long the panel lies in the room before it is tested, [h].
    water_ml : float
        What the panel alone holds, [mL].
    water_energy_j : float
        Energy of as much water at the file's test pressure, [J].
    locked_pa_k : float
        What the pressure rises for each kelvin where coolant is shut in without air, [Pa/K]: in the mean from 20 °C to
        the coolant's temperature in use.
    water_locked_pa_k : float
        The same of water in a room, [Pa/K].
    accepted : tuple of str
        Codes of strength checks that failed and that the file accepts: nothing says that the panel holds then.
    """

    pressure_pa: float
    file_pa: float
    working_pa: float
    water_pa: float
    air: tuple[AirTest, ...]
    gauge_port: str
    plugged: tuple[PlacedPort, ...]
    drift_pa_k: float
    barometer_pa_h: float
    warms_k: float
    falls_pa: float
    air_cools_s: float
    settle_min: int
    lies_h: float
    water_ml: float
    water_energy_j: float
    locked_pa_k: float
    water_locked_pa_k: float
    accepted: tuple[str, ...] = ()


def plan_leak_test(plan: Plan, wet_mm3: float | None = None) -> LeakTest:
    """Return how a panel is tested for leaks.

    Parameters
    ----------
    plan : Plan
    wet_mm3 : float, optional
        Measured volume of all that is wet in the panel, [mm3]; the plan's without it.

    Returns
    -------
    LeakTest

    Raises
    ------
    OutOfRange
        A coolant outside its table.

    Notes
    -----
    A separate tank is left out, with plugs in the panel's two ports for it: a vessel is seldom made for pressure.
    """
    panel = plan.panel
    pressure = min(panel.rules.test_pressure_pa, MOST_AIR_PA)
    working, accepted = find_working_pressure(panel).pressure_pa, _list_accepted(plan)
    water = working if accepted else max(working, panel.rules.test_pressure_pa)
    gauge = find_gauge_port(plan)
    room_k = kelvin(FILL_C)
    drift, warms = drift_pa_k(pressure, room_k), warmed_k(pressure, room_k)
    inside = _inside_ml(plan) if wet_mm3 is None else wet_mm3 / MM3_PER_ML
    unknown = (
        *(part.name for part in panel.parts if part.volume_ml is None),
        *((HOSES,) if panel.hose_volume_ml is None else ()),
    )
    shares = (
        viscous_share(pressure, working, plan.flowing.viscosity_pa_s),
        orifice_share(pressure, working, plan.flowing.density_kg_m3),
    )
    return LeakTest(
        pressure_pa=pressure,
        file_pa=panel.rules.test_pressure_pa,
        working_pa=working,
        water_pa=water,
        air=()
        if accepted
        else (
            plan_air_test("panel alone", inside, (), pressure, drift, shares),
            plan_air_test("whole loop", inside + outside_volume_ml(panel), unknown, pressure, drift, shares),
        ),
        gauge_port=gauge.name,
        plugged=tuple(port for ports in group_test_plugs(plan).values() for port in ports),
        drift_pa_k=drift,
        barometer_pa_h=BAROMETER_PA_H,
        warms_k=warms,
        falls_pa=drift * room_k * warms / (room_k + warms),
        air_cools_s=cooling_time_s(_widest_gap(panel), pressure, warms, COOLED_K),
        settle_min=SETTLE_MIN,
        lies_h=_lies_h(panel),
        water_ml=inside,
        water_energy_j=liquid_energy_j(water, inside * 1e-6),
        locked_pa_k=locked_pa_k(_growth_per_k(panel)),
        water_locked_pa_k=locked_pa_k(_water_growth_per_k()),
        accepted=accepted,
    )


def find_gauge_port(plan: Plan) -> PlacedPort:
    """Return the port that takes the test fitting: fill, else drain, else bleed, else the first of the others.

    Parameters
    ----------
    plan : Plan
    """
    ports = plan.routed.ports
    ranked = [port for role in GAUGE_ROLES for port in ports if port.role == role]
    tank = [port for port in ports if port.part == "tank"]
    return (*ranked, *tank, *ports)[0]


def group_test_plugs(plan: Plan) -> dict[str, list[PlacedPort]]:
    """Return by thread the ports that are open in use and get plugs for the test of the panel alone.

    Parameters
    ----------
    plan : Plan
    """
    gauge, groups = find_gauge_port(plan), dict[str, list[PlacedPort]]()
    for port in plan.routed.ports:
        if not port.is_shut and port != gauge:
            groups.setdefault(port.thread, []).append(port)
    return groups


def gauge_scale_bar(pressure_pa: float) -> float:
    """Return the full scale of the gauge for a pressure, [bar].

    Parameters
    ----------
    pressure_pa : float
        That is read, [Pa].
    """
    asked = bar(pressure_pa) / SCALE_SHARE
    return next((scale for scale in GAUGE_BAR if scale >= asked - 1e-9), math.ceil(asked))


def plan_air_test(
    what: Literal["panel alone", "whole loop"],
    volume_ml: float,
    unknown: tuple[str, ...],
    pressure_pa: float,
    drift: float,
    shares: tuple[float, float],
) -> AirTest:
    """Return one test with air, held so long that it tells a drop of coolant an hour, within the limits of the time.

    Parameters
    ----------
    what : {"panel alone", "whole loop"}
    volume_ml : float
        [mL]
    unknown : tuple of str
        Where there are any it is held as long as can be.
    pressure_pa : float
        [Pa]
    drift : float
        [Pa/K]
    shares : (float, float)
        Flow of coolant in use over that of air, through a long leak and through a short one, [-].
    """
    wanted = TOLD_DROPS_H * DROP_ML / 60.0 / shares[0]
    steady = GAUGE_PA + THERMOMETER_K * drift
    slack = leaked_ml_min(1.0, volume_ml, 1.0)
    # The barometer's share grows with time: past a volume no time is long enough.
    spare = wanted - slack * BAROMETER_PA_H / 60.0
    needed = slack * steady / spare if spare > 0.0 and not unknown else math.inf
    steps = math.ceil(min(needed, MOST_HOLD_MIN) / HOLD_STEP_MIN - 1e-9)
    hold = max(LEAST_HOLD_MIN, steps * HOLD_STEP_MIN)
    allowed = steady + BAROMETER_PA_H * hold / 60.0
    told = leaked_ml_min(allowed, volume_ml, hold)
    drops, most = (told * share * 60.0 / DROP_ML for share in shares)
    return AirTest(
        what,
        volume_ml,
        unknown,
        stored_energy_j(pressure_pa, volume_ml * 1e-6),
        hold,
        allowed,
        told,
        drops,
        max(drops, most),
    )


def _inside_ml(plan: Plan) -> float:
    pocket = 0.0 if plan.routed.tank.box is None else tank_volume_ml(plan.panel, plan.routed) or 0.0
    return pocket + channel_volume_ml(plan.panel, plan.routed)


def _widest_gap(panel: Panel) -> float:
    """Return the widest distance between walls that face each other, [mm]."""
    section = panel.channel
    channel = min(max(section.widths), section.depth)
    return max(channel, panel.tank.depth if panel.tank.kind == "pocket" else 0.0)


def _lies_h(panel: Panel) -> float:
    """Return how long a panel takes to follow the room, to half hours, [h]."""
    thick = panel.make.body + len(joints_of(panel)) * panel.make.cover
    heat = HEAT_J_M3K[tables.material(panel.make.material).kind]
    hours = FOLLOWED * heat * thick * 1e-3 / (2.0 * ROOM_W_M2K) / 3600.0
    return max(0.5, math.ceil(2.0 * hours) / 2.0)


def _growth_per_k(panel: Panel) -> float:
    """Return the growth of the coolant for each kelvin from filling to its use, over 5 K at least, [1/K]."""
    warm = max(panel.coolant.temperature_c, FILL_C + 5.0)
    return growth_share(panel, warm) / (warm - FILL_C)


def _water_growth_per_k() -> float:
    cold, warm = (coolant_properties("water", 0.0, celsius).density_kg_m3 for celsius in WATER_C)
    return (cold / warm - 1.0) / (WATER_C[1] - WATER_C[0])


def _list_accepted(plan: Plan) -> tuple[str, ...]:
    codes = (one.code for one in plan.findings if one.accepted is not None and one.code in STRENGTH_CODES)
    return tuple(dict.fromkeys(codes))
