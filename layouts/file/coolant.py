"""What a panel file says of its coolant: a fluid that is liquid at its temperature, warmer than the air."""

from __future__ import annotations

from layouts.file.model import PanelFile
from layouts.file.positions import Problems

MOST_GLYCOL = 0.6

MOST_C = 95.0
"""Hottest coolant that a panel file may ask for: short of boiling, [°C]."""

LEAST_MIX_C = -40.0
"""Coldest mix, [°C]."""

OVER_FREEZING_K = 1.0
"""How far over its freezing point the coolant must stay, [K]; it covers what the chords below the curve miss."""

FREEZING_STEP = 0.05

FREEZING_C = {
    "ethylene glycol": (0.0, -1.6, -3.4, -5.4, -7.9, -11.0, -14.6, -18.8, -23.8, -29.5, -36.0, -43.2, -51.2),
    "propylene glycol": (0.0, -1.2, -2.9, -4.9, -7.2, -9.8, -12.8, -16.3, -20.6, -25.8, -32.2, -40.2, -50.0),
}
"""Freezing points at 0, 5 to 60 % of glycol by mass, [°C].

Source: Melinder, Properties of Secondary Working Fluids for Indirect Systems, IIR 2010, by CoolProp's fits.
"""


def check_coolant(file: PanelFile, problems: Problems) -> None:
    """Note a share of glycol that does not suit the fluid, and temperatures at which it is no coolant.

    Parameters
    ----------
    file : PanelFile
    problems : Problems
        Added to.
    """
    coolant = file.coolant
    water, share = coolant.fluid == "water", coolant.mass_fraction
    if water and share is not None:
        problems.add(
            ("coolant", "mass_fraction"),
            f"{100 * share:.4g} % of glycol in water alone; remove the key or name a glycol as fluid",
        )
    if not water and share is None:
        problems.add(
            ("coolant", "mass_fraction"),
            f'missing; "{coolant.fluid}" needs its share by mass, e.g. mass_fraction = "30 %"',
        )
    if not water and share is not None and share > MOST_GLYCOL:
        problems.add(
            ("coolant", "mass_fraction"),
            f"{100 * share:.4g} % is too much glycol; from 0 to {100 * MOST_GLYCOL:g} %",
        )
    low = LEAST_MIX_C if not water and share is None else find_least_c(coolant.fluid, share or 0.0)
    mixed = f" with {100 * share:.4g} % by mass" if not water and share is not None else ""
    if not low <= coolant.temperature <= MOST_C:
        problems.add(
            ("coolant", "temperature"),
            f"{coolant.temperature:.4g} °C is outside {low:.3g} to {MOST_C:g} °C for {coolant.fluid}{mixed};"
            " write the coolant's temperature in use, e.g. '35 °C'" + (", or more glycol" if mixed else ""),
        )
    if coolant.ambient is not None and coolant.ambient >= coolant.temperature:
        over = f"above {coolant.ambient:.4g} °C"
        warmer = f", or raise temperature in [coolant] {over}" if coolant.ambient < MOST_C else ""
        problems.add(
            ("coolant", "ambient"),
            f"air of {coolant.ambient:.4g} °C does not cool coolant of {coolant.temperature:.4g} °C; write the"
            f" temperature of the air around the radiators, below the coolant's{warmer}",
        )


def find_least_c(fluid: str, mass_fraction: float) -> float:
    """Return the coldest temperature at which a panel file may use a coolant.

    Parameters
    ----------
    fluid : {"water", "ethylene glycol", "propylene glycol"}
    mass_fraction : float
        Glycol by mass, [-]; beyond the table's last share as at that.

    Returns
    -------
    float
        [°C]
    """
    if fluid == "water":
        return OVER_FREEZING_K
    row = FREEZING_C[fluid]
    place = min(mass_fraction / FREEZING_STEP, float(len(row) - 1))
    k = min(int(place), len(row) - 2)
    freezing = row[k] + (place - k) * (row[k + 1] - row[k])
    return max(LEAST_MIX_C, freezing + OVER_FREEZING_K)
