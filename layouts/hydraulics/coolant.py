"""Properties of the coolant, remembered on disk because loading the property library takes two seconds."""

from __future__ import annotations

import hashlib
import json
import math
import os
import sys
import tempfile
from dataclasses import asdict, dataclass
from functools import lru_cache
from importlib import metadata
from pathlib import Path

from geom.errors import OutOfRange

PRESSURE_PA = 101_325.0
"""Properties are taken at one standard atmosphere: a cooling loop runs within some 0.5 bar of it."""

ZERO_C_K = 273.15
GLYCOLS = {"ethylene glycol": "INCOMP::MEG", "propylene glycol": "INCOMP::MPG"}
FLUIDS = ("water", *GLYCOLS)


@dataclass(frozen=True, slots=True)
class Coolant:
    """A coolant at one temperature and 101 325 Pa.

    Parameters
    ----------
    fluid : {"water", "ethylene glycol", "propylene glycol"}
    mass_fraction : float
        Glycol in the mix by mass, [-]; 0 for water.
    temperature_c : float
        [°C]
    density_kg_m3 : float
        [kg/m3]
    viscosity_pa_s : float
        Dynamic, [Pa s].
    heat_capacity_j_kgk : float
        At constant pressure, [J/(kg K)].
    vapour_pressure_pa : float or None
        [Pa]; None where the property library has none (the glycol mixes).
    freezing_c : float or None
        [°C]
    """

    fluid: str
    mass_fraction: float
    temperature_c: float
    density_kg_m3: float
    viscosity_pa_s: float
    heat_capacity_j_kgk: float
    vapour_pressure_pa: float | None
    freezing_c: float | None


def coolant_properties(fluid: str, mass_fraction: float, temperature_c: float) -> Coolant:
    """Return the properties of a coolant.

    Parameters
    ----------
    fluid : {"water", "ethylene glycol", "propylene glycol"}
    mass_fraction : float
        Glycol by mass (not by volume), [-]; 0 for water.
    temperature_c : float
        [°C]

    Returns
    -------
    Coolant

    Raises
    ------
    OutOfRange
        Unknown fluid, mass fraction outside the mix's table, temperature below freezing or above boiling.

    Source
    ------
    Bell, Wronski, Quoilin and Lemort, CoolProp: "Water" is IAPWS-95 (Wagner and Pruss 2002) with the IAPWS
    2008 viscosity; INCOMP::MEG and INCOMP::MPG are fits to Melinder, Properties of Secondary Working Fluids
    for Indirect Systems, IIR 2010, by mass fraction.
    """
    if fluid not in FLUIDS:
        raise OutOfRange(f'coolant "{fluid}" is not known; use one of: {", ".join(FLUIDS)}')
    if not (math.isfinite(mass_fraction) and math.isfinite(temperature_c)):
        raise OutOfRange(
            f"coolant {fluid}: mass fraction {mass_fraction} at {temperature_c} °C is not a number"
        )
    if fluid == "water" and mass_fraction != 0.0:
        raise OutOfRange(
            f"coolant water: mass fraction {mass_fraction:g} must be 0; for a mix name the glycol"
        )
    mass_fraction, temperature_c = float(mass_fraction) + 0.0, float(temperature_c) + 0.0
    file = _find_cache_file(fluid, mass_fraction, temperature_c)
    remembered = None if file is None else _read_cache(file, fluid, mass_fraction, temperature_c)
    if remembered is not None:
        return remembered
    coolant = _compute_properties(fluid, mass_fraction, temperature_c)
    if file is not None:
        _write_cache(file, coolant)
    return coolant


def temperature_rise_k(heat_w: float, flow_m3_s: float, coolant: Coolant) -> float:
    """Return how much the coolant warms while it takes up a heat.

    Parameters
    ----------
    heat_w : float
        [W]
    flow_m3_s : float
        [m3/s], greater than 0.
    coolant : Coolant

    Returns
    -------
    float
        [K]

    Raises
    ------
    OutOfRange
        No flow.

    Source
    ------
    Energy balance of a steady stream: heat = density * flow * heat capacity * rise.
    """
    if flow_m3_s <= 0:
        raise OutOfRange(f"temperature rise at {flow_m3_s:g} m3/s: the flow must be greater than 0")
    return heat_w / (coolant.density_kg_m3 * flow_m3_s * coolant.heat_capacity_j_kgk)


def _compute_properties(fluid: str, mass_fraction: float, temperature_c: float) -> Coolant:
    from CoolProp.CoolProp import PropsSI

    kelvin = temperature_c + ZERO_C_K
    if fluid == "water":
        name = "Water"
        freezing_c = 0.0
        least_c, most_c = 0.01, PropsSI("T", "P", PRESSURE_PA, "Q", 0, name) - ZERO_C_K
        ends = "triple point", "boiling"
    else:
        mix = GLYCOLS[fluid]
        least_x, most_x = PropsSI("FRACTION_MIN", mix), PropsSI("FRACTION_MAX", mix)
        if not least_x <= mass_fraction <= most_x:
            raise OutOfRange(
                f"coolant {fluid}: mass fraction {mass_fraction:g} is outside {least_x:g} to {most_x:g}; "
                "give the glycol's share by mass, between 0 and 1"
            )
        name = f"{mix}[{mass_fraction!r}]"
        freezing_c = PropsSI("T_FREEZE", "T", 298.15, "P", PRESSURE_PA, name) - ZERO_C_K
        least_c, most_c = freezing_c, PropsSI("Tmax", name) - ZERO_C_K
        ends = "freezing", "the end of the table"
    if not least_c <= temperature_c <= most_c:
        raise OutOfRange(
            f"coolant {fluid}: {temperature_c:g} °C is outside {least_c:.2f} °C ({ends[0]}) to {most_c:.2f} "
            f"°C ({ends[1]}); choose a temperature between them or another mix"
        )
    try:
        density, viscosity, heat_capacity = (
            float(PropsSI(quantity, "T", kelvin, "P", PRESSURE_PA, name)) for quantity in ("D", "V", "C")
        )
        vapour_pa = float(PropsSI("P", "T", kelvin, "Q", 0, name)) if fluid == "water" else None
    except ValueError as error:
        raise OutOfRange(
            f"coolant {fluid}, mass fraction {mass_fraction:g}, {temperature_c:g} °C: no properties at this "
            f"limit of the table ({least_c:.2f} °C to {most_c:.2f} °C); move the temperature away from it"
        ) from error
    return Coolant(
        fluid, mass_fraction, temperature_c, density, viscosity, heat_capacity, vapour_pa, float(freezing_c)
    )


def _find_cache_file(fluid: str, mass_fraction: float, temperature_c: float) -> Path | None:
    """Return where this answer is remembered; None where there is no home to remember it in."""
    try:
        version = _find_version()
        folder = find_cache_folder()
    except (metadata.PackageNotFoundError, RuntimeError):
        return None
    key = json.dumps([1, fluid, mass_fraction, temperature_c, version])
    return folder / f"coolant-{hashlib.sha256(key.encode()).hexdigest()[:24]}.json"


@lru_cache(maxsize=1)
def _find_version() -> str:
    """Return the library's version; looking it up takes as long as solving a loop."""
    return metadata.version("CoolProp")


def find_cache_folder() -> Path:
    """Return the folder in which answers are remembered, as this system names it; it need not exist.

    Raises
    ------
    RuntimeError
        Where the user has no home folder.
    """
    named = os.environ.get("XDG_CACHE_HOME", "")
    if named and Path(named).is_absolute():
        return Path(named) / "rillplate"
    if sys.platform == "win32":
        local = os.environ.get("LOCALAPPDATA", "")
        return (Path(local) if local else Path.home() / "AppData" / "Local") / "rillplate" / "Cache"
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Caches" / "rillplate"
    return Path.home() / ".cache" / "rillplate"


def _read_cache(file: Path, fluid: str, mass_fraction: float, temperature_c: float) -> Coolant | None:
    """Return the remembered coolant; None where the file is missing, damaged or another's."""
    try:
        coolant = Coolant(**json.loads(file.read_text(encoding="utf-8")))
        must = (coolant.density_kg_m3, coolant.viscosity_pa_s, coolant.heat_capacity_j_kgk)
        may = (coolant.vapour_pressure_pa, coolant.freezing_c)
        sound = all(math.isfinite(value) and value > 0 for value in must) and all(
            value is None or math.isfinite(value) for value in may
        )
    except (OSError, ValueError, TypeError):
        return None
    asked = (fluid, mass_fraction, temperature_c)
    same = (coolant.fluid, coolant.mass_fraction, coolant.temperature_c) == asked
    return coolant if sound and same else None


def _write_cache(file: Path, coolant: Coolant) -> None:
    """Remember the coolant; a folder that cannot be written costs time only, so it is let pass."""
    aside = None
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(prefix=file.stem, suffix=".part", dir=file.parent)
        with os.fdopen(handle, "w", encoding="utf-8") as stream:
            json.dump(asdict(coolant), stream)
        os.replace(aside, file)
    except OSError:
        if aside is not None and os.path.exists(aside):
            os.unlink(aside)
