"""What would happen in a tank whose fill port were shut by a tight plug: the cushion of air over its coolant."""

from __future__ import annotations

from dataclasses import dataclass

from geom.units import kelvin
from layouts.feed import FILL_C, growth_share, hot_c
from layouts.hydraulics.compressed_air import cushion_pa
from layouts.plan import Plan


@dataclass(frozen=True, slots=True)
class ShutTank:
    """The cushion of a tank shut tight at 20 °C.

    Parameters
    ----------
    air_ml : float
        Over the cold level, [mL].
    at : tuple of (float, float)
        Temperature of the coolant, [°C], and pressure over the air around, [Pa]: in use, where that is warmer than it
        was filled in, and hot.
    least : bool
        Whether some volumes are not known: with them there is more coolant, and more pressure.
    """

    air_ml: float
    at: tuple[tuple[float, float], ...]
    least: bool


def shut_tank(plan: Plan) -> ShutTank | None:
    """Return what a tight plug would do; None where the tank's volume is not known.

    Parameters
    ----------
    plan : Plan

    Raises
    ------
    OutOfRange
        A coolant outside its table.
    """
    panel, feeding = plan.panel, plan.advised.feeding
    if feeding.room_ml is None or feeding.room_ml <= 0.0:
        return None
    coolant_ml = feeding.tank_ml + feeding.loop_ml
    warm = sorted({panel.coolant.temperature_c, hot_c(panel)})
    return ShutTank(
        feeding.room_ml,
        tuple(
            (
                celsius,
                cushion_pa(
                    feeding.room_ml * 1e-6,
                    coolant_ml * growth_share(panel, celsius) * 1e-6,
                    kelvin(FILL_C),
                    kelvin(celsius),
                ),
            )
            for celsius in warm
            if celsius > FILL_C
        ),
        bool(feeding.unknown_parts),
    )
