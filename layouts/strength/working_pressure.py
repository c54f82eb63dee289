"""The pressure and the heat that the sheets must stand in use."""

from __future__ import annotations

from dataclasses import dataclass

from layouts.advice import Heating
from layouts.faces import face_z
from layouts.hydraulics.coolant import coolant_properties
from layouts.hydraulics.pump import GRAVITY_M_S2, read_head
from layouts.panel import Panel


@dataclass(frozen=True, slots=True)
class WorkingPressure:
    """The most pressure over that of the air outside which the panel sees in use.

    Parameters
    ----------
    head_m : float
        The used pump's head without flow, at its most speed, [m].
    height_m : float
        Coolant that may stand over the panel's lowest place, [m].
    density_kg_m3 : float
        Of the coolant at the file's temperature, [kg/m3].
    """

    head_m: float
    height_m: float
    density_kg_m3: float

    @property
    def pressure_pa(self) -> float:
        """Of both heights of coolant, [Pa]."""
        return self.density_kg_m3 * GRAVITY_M_S2 * (self.head_m + self.height_m)


def find_working_pressure(panel: Panel) -> WorkingPressure:
    """Return the most pressure that the panel sees in use.

    A hose that is kinked or a valve that is shut leaves the pump at its head without flow; the tank is open to the
    air, by its vented plug, so that nothing else adds to it but the coolant's own height. That is taken as the panel's
    whole height as it is installed. How far a separate tank stands above the panel the
    file does not say: each metre of that adds another 10 kPa, about.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    WorkingPressure
        Its height is in [m], its pressure in [Pa].

    Raises
    ------
    OutOfRange
        A coolant outside its table.

    Source
    ------
    Hydrostatics: density * gravity * height.
    """
    choice = panel.coolant
    density = coolant_properties(choice.fluid, choice.mass_fraction, choice.temperature_c).density_kg_m3
    head = read_head(panel.pump.choice(panel.pump.used).curve, 0.0)[0]
    thickness = face_z(panel, "front") - face_z(panel, "back")
    across, up, out = panel.up
    # The corners of a box stand apart along a unit vector by the sum of its sides' shares in it.
    height = abs(across) * panel.width + abs(up) * panel.height + abs(out) * thickness
    return WorkingPressure(head, height * 1e-3, density)


def hottest_coolant_c(panel: Panel, heating: Heating) -> float:
    """Return the warmest coolant that the plan knows of, [°C]: of the file, in the tank, before or behind a part."""
    parts = (t for step in heating.steps for t in (step.inlet_c, step.outlet_c))
    return max(panel.coolant.temperature_c, heating.tank_c, *parts)
