"""Text with a unit to numbers, and SI to the units of the reports: the only place that converts.

A quantity is a number, any spaces, and a unit: "8 mm", "0.5 in", "1.2 L/min", "2e-3 m". The unit is
compulsory, the decimal mark is a point, thousands separators are refused, an exponent is allowed and the
value must be finite. Units are case-sensitive: "m" is metres.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal

INCH_MM = 25.4
FOOT_M = 0.3048
POUND_KG = 0.45359237
GRAVITY_M_S2 = 9.80665
US_GALLON_M3 = 231 * (INCH_MM / 1000) ** 3
PSI_PA = POUND_KG * GRAVITY_M_S2 / (INCH_MM / 1000) ** 2
ZERO_CELSIUS_K = 273.15
L_MIN_M3_S = 1e-3 / 60

FINE_ML = 100.0
"""Volumes below it are told to a tenth, [mL]."""

NUMBER = r"[-+]?[0-9]+(?:\.[0-9]+)?(?:[eE][-+]?[0-9]+)?"


@dataclass(frozen=True, slots=True)
class Kind:
    """What a quantity measures.

    Parameters
    ----------
    name : str
        In plain words, for messages.
    base : str
        Unit of the parsed number; empty for a plain ratio.
    units : dict of str to (float, float)
        Unit to (factor, offset): base = number * factor + offset.
    example : str
    """

    name: str
    base: str
    units: dict[str, tuple[float, float]]
    example: str


def _scaled(**units: float) -> dict[str, tuple[float, float]]:
    return {unit: (factor, 0.0) for unit, factor in units.items()}


KINDS: dict[str, Kind] = {
    "length": Kind("length", "mm", _scaled(mm=1.0, cm=10.0, m=1000.0) | {"in": (INCH_MM, 0.0)}, "8 mm"),
    "flow": Kind(
        "flow",
        "m3/s",
        {
            "L/min": (L_MIN_M3_S, 0.0),
            "L/h": (1e-3 / 3600, 0.0),
            "mL/s": (1e-6, 0.0),
            "m3/h": (1 / 3600, 0.0),
            "gpm": (US_GALLON_M3 / 60, 0.0),
        },
        "4 L/min",
    ),
    "pressure": Kind(
        "pressure",
        "Pa",
        _scaled(Pa=1.0, kPa=1e3, bar=1e5, mbar=100.0, psi=PSI_PA, mmH2O=GRAVITY_M_S2),
        "5.5 kPa",
    ),
    "head": Kind("head", "m", _scaled(m=1.0, cm=0.01, mm=0.001, ft=FOOT_M), "3.9 m"),
    "temperature": Kind(
        "temperature",
        "°C",
        {
            "°C": (1.0, 0.0),
            "C": (1.0, 0.0),
            "K": (1.0, -ZERO_CELSIUS_K),
            "°F": (1 / 1.8, -32 / 1.8),
        },
        "35 °C",
    ),
    "angle": Kind("angle", "deg", {"deg": (1.0, 0.0), "°": (1.0, 0.0)}, "90 deg"),
    "velocity": Kind("velocity", "m/s", {"m/s": (1.0, 0.0)}, "1.5 m/s"),
    "power": Kind("power", "W", {"W": (1.0, 0.0), "kW": (1000.0, 0.0)}, "140 W"),
    "volume": Kind("volume", "mL", _scaled(mL=1.0, L=1000.0, cm3=1.0), "250 mL"),
    "percent": Kind("share", "", {"%": (0.01, 0.0)}, "85 %"),
    "speed": Kind("speed", "rpm", {"rpm": (1.0, 0.0)}, "2400 rpm"),
    "sound": Kind("sound level", "dB", {"dB": (1.0, 0.0), "dB(A)": (1.0, 0.0), "dBA": (1.0, 0.0)}, "32 dB"),
    "conductance": Kind("heat per kelvin", "W/K", {"W/K": (1.0, 0.0), "W/°C": (1.0, 0.0)}, "18 W/K"),
    "roughness": Kind("roughness", "um", {"um": (1.0, 0.0), "µm": (1.0, 0.0)}, "1.6 um"),
}

_QUANTITY = re.compile(rf"({NUMBER}) *(\S.*)?", re.DOTALL)


def list_units(kind: str) -> str:
    """Return the units of a kind as "mm, cm, m, in"."""
    return ", ".join(KINDS[kind].units)


def parse_quantity(text: str, kind: str) -> float:
    """Return the value of a quantity in the base unit of its kind.

    Parameters
    ----------
    text : str
        A number and a unit: "8 mm".
    kind : str
        A key of `KINDS`: "length" gives [mm], "flow" [m3/s], "pressure" [Pa], "head" [m], "temperature" [°C],
        "angle" [deg], "velocity" [m/s], "power" [W], "volume" [mL], "percent" [-], "speed" [rpm], "sound" [dB],
        "conductance" [W/K], "roughness" [um].

    Returns
    -------
    float
        Finite.

    Raises
    ------
    ValueError
        No number, no unit, an unknown unit, or a number too large to hold; the text says what to write.
    """
    known = KINDS[kind]
    expected = f"write e.g. '{known.example}' (units: {list_units(kind)})"
    shown = repr(text if len(text) <= 60 else text[:57] + "...")
    match = _QUANTITY.fullmatch(text)
    if match is None:
        hint = "the decimal mark is a point; " if re.match(r"\s*[-+]?[0-9]+,[0-9]", text) else ""
        raise ValueError(f"{shown} is not a {known.name}; {hint}{expected}")
    number, unit = match.groups()
    if unit is None:
        raise ValueError(f"{shown} has no unit; {expected}")
    if unit not in known.units:
        if re.match(r"[,.' _0-9]", unit):
            reason = "is not one number and one unit (no thousands separators, decimal point)"
        else:
            near = [other for other in known.units if other.lower() == unit.lower()]
            meant = f" (meant '{near[0]}'?)" if near else ""
            reason = f"has a unit that is not one of {known.name}{meant}"
        raise ValueError(f"{shown} {reason}; {expected}")
    factor, offset = known.units[unit]
    value = float(number) * factor + offset
    if not math.isfinite(value):
        raise ValueError(f"{shown} is too large to be a number; {expected}")
    return value


def quantity_pattern(kind: str) -> str:
    """Return the regular expression (ECMA 262 and Python) that exactly the texts of a kind match."""
    units = "|".join(re.escape(unit) for unit in KINDS[kind].units)
    return rf"^{NUMBER} *(?:{units})$"


def show_number(value: float, digits: int = 4) -> str:
    """Return a finite number to some significant digits, never with an exponent: "14000", "0.00001"."""
    return format(Decimal(f"{value:.{digits}g}"), "f")


def show_like(value: float, kind: str, text: str) -> str:
    """Return a value in the unit in which a text gives another of its kind.

    Parameters
    ----------
    value : float
        In the base unit of `kind`.
    kind : str
        A key of `KINDS`.
    text : str
        A quantity that `parse_quantity` reads: "1e9 kPa".

    Returns
    -------
    str
        "100000 kPa".
    """
    match = _QUANTITY.fullmatch(text)
    assert match is not None, "only a quantity that was read has a unit"
    factor, offset = KINDS[kind].units[match[2]]
    return f"{show_number((value - offset) / factor, 6)} {match[2]}"


def l_min(flow_m3_s: float) -> float:
    """Return a flow [m3/s] in L/min."""
    return flow_m3_s / L_MIN_M3_S


def kpa(dp_pa: float) -> float:
    """Return a pressure [Pa] in kPa."""
    return dp_pa / 1e3


def bar(dp_pa: float) -> float:
    """Return a pressure [Pa] in bar."""
    return dp_pa / 1e5


def mbar(dp_pa: float) -> float:
    """Return a pressure [Pa] in mbar."""
    return dp_pa / 1e2


def ml(volume_mm3: float) -> float:
    """Return a volume [mm3] in mL."""
    return volume_mm3 / 1e3


def show_ml(volume_ml: float) -> str:
    """Return a volume [mL] without its unit: a tenth of a millilitre below 100, whole ones from there on.

    "10.7", "298"; "0" for less than half of a tenth.
    """
    said = f"{volume_ml:.1f}" if volume_ml < FINE_ML else f"{volume_ml:.0f}"
    return "0" if said == "0.0" else said


def kelvin(temperature_c: float) -> float:
    """Return a temperature [°C] in K."""
    return temperature_c + ZERO_CELSIUS_K
