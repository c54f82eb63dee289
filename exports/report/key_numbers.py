"""The numbers that a panel is judged by: flow, walls, volumes, masses, hours, cost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from exports.tables.cost_tables import show_quantity
from exports.tables.panel_tables import tell_pump, tell_thinnest
from exports.wording.figures import show_band, show_banded, show_mm
from exports.wording.filling_words import list_left, show_ml, show_mm3
from exports.wording.milling_words import tell_total
from geom.units import kpa, l_min, ml
from geom.words import count_of, tell_torque
from layouts.cost.sheet import CostSheet
from layouts.faces import cover_name
from layouts.feed import tank_volume_ml
from layouts.panel import Panel
from layouts.plan import Flowing, Plan
from layouts.strength.fastening import fasten_plan

if TYPE_CHECKING:
    from exports.check_solids import Checked

FINISHED = ("finished ", "print ")
"""How the masses of finished parts begin on the cost sheet."""

PRINTING = "printing"
"""What the machine's hours on the cost sheet are for, where parts are printed."""


@dataclass(frozen=True, slots=True)
class KeyNumber:
    """A number that the panel is judged by: its name, the number with unit and band, and what else is said of it."""

    name: str
    value: str
    more: str = ""


def list_key_numbers(plan: Plan, checked: Checked | None, cost: CostSheet) -> tuple[KeyNumber, ...]:
    """Return the numbers that a panel is judged by, each with unit and band.

    Parameters
    ----------
    plan : Plan
    checked : Checked or None
    cost : CostSheet
    """
    flow = list_flow_numbers(plan.panel, plan.flowing)
    return (*flow, *_walls(plan, checked), *_volumes(plan, checked), *_making(plan, cost))


def list_flow_numbers(panel: Panel, flowing: Flowing) -> tuple[KeyNumber, ...]:
    """Return what flows, against what head and drop, and how fast at most.

    Parameters
    ----------
    panel : Panel
    flowing : Flowing
    """
    wanted = panel.wanted_flow_m3_s
    asked = "" if wanted is None else f"; {l_min(wanted):.3g} L/min are wanted"
    numbers = [
        KeyNumber(
            "flow",
            f"{show_banded(l_min(flowing.flow_m3_s), flowing.band)} L/min {show_band(flowing.band)}".strip(),
            f"at the operating point{tell_pump(panel.pump)}{asked}",
        ),
        KeyNumber(
            "pump's head",
            f"{show_banded(flowing.head_m, flowing.head_band)} m {show_band(flowing.head_band)}".strip(),
        ),
        KeyNumber(
            "loop's drop",
            f"{show_banded(kpa(flowing.loop_drop_pa), flowing.head_band)} kPa {show_band(flowing.head_band)}".strip(),
        ),
    ]
    fastest = max(flowing.channels, key=lambda flow: flow.velocity_m_s, default=None)
    if fastest is not None and fastest.velocity_m_s > 0.0:
        numbers.append(
            KeyNumber(
                "most velocity",
                f"{show_banded(fastest.velocity_m_s, flowing.band)} m/s {show_band(flowing.band)}".strip(),
                f'in "{fastest.channel}"; at most {panel.rules.most_velocity_m_s:g} m/s is allowed',
            )
        )
    return tuple(numbers)


def _walls(plan: Plan, checked: Checked | None) -> list[KeyNumber]:
    thinnest = "" if checked is None else tell_thinnest(checked)
    if not thinnest:
        return []
    value, _, between = thinnest.partition(", ")
    asked = f"at least {show_mm(plan.panel.rules.least_wall)} mm is asked for"
    return [KeyNumber("thinnest wall beside coolant", value, f"as drawn, {between}; {asked}")]


def _volumes(plan: Plan, checked: Checked | None) -> list[KeyNumber]:
    numbers: list[KeyNumber] = []
    if checked is not None:
        wet = show_ml(ml(checked.volumes.wet_solid))
        pocket = None if plan.routed.tank.box is None else tank_volume_ml(plan.panel, plan.routed)
        more = "" if pocket is None else f"{show_ml(pocket)} of it in the full tank"
        numbers.append(KeyNumber("coolant in the plate", wet, more))
    filling = plan.filling if checked is None or checked.filling is None else checked.filling
    if filling is None:
        return numbers
    if filling.sequence is not None and filling.sequence.may_run_ml is not None:
        unknown = filling.sequence.unknown
        more = (
            "without what holds a volume that the file does not give"
            if unknown
            else "parts and hoses included"
        )
        numbers.append(KeyNumber("coolant to fill with", show_ml(filling.sequence.total_ml), more))
    if filling.sequence is None or filling.sequence.steps:
        air = show_mm3(list_left(filling, "air")[1])
        numbers.append(KeyNumber("air left when filled", air, "as installed, ±1 % of the voxels"))
    coolant = show_mm3(list_left(filling, "coolant")[1])
    numbers.append(KeyNumber("coolant left when drained", coolant, "as installed, ±1 % of the voxels"))
    return numbers


def _making(plan: Plan, cost: CostSheet) -> list[KeyNumber]:
    numbers: list[KeyNumber] = []
    for one in fasten_plan(plan):
        size = one.screw if one.length is None else f"{one.screw} × {one.length:g} mm"
        numbers.append(
            KeyNumber(
                f"{cover_name(one.layer)} screws",
                f"{len(one.loads_n)} {size}",
                f"tightened to {tell_torque(*one.torque_nm)}, an estimate",
            )
        )
    masses = [item for item in cost.items if item.item.startswith(FINISHED)]
    if masses:
        whole = sum(item.shown for item in masses)
        parts = ", ".join(f"{item.item.partition(' ')[2]} {show_quantity(item)} kg" for item in masses)
        numbers.append(KeyNumber("mass, dry", f"{whole:.3f} kg", parts if len(masses) > 1 else ""))
    if plan.milled is not None and plan.milled.minutes > 0:
        numbers.append(
            KeyNumber("milling", tell_total(plan.milled), count_of(len(plan.milled.setups), "set-up"))
        )
    numbers += [
        KeyNumber(PRINTING, f"about {show_quantity(item)} h", item.what.partition(", ")[2])
        for item in cost.items
        if item.unit == "h" and item.what.startswith(PRINTING)
    ]
    if cost.total is not None:
        left_out = f"without {', '.join(dict.fromkeys(cost.unpriced))}" if cost.unpriced else ""
        numbers.append(KeyNumber("cost", f"{cost.total:.2f} {cost.currency}", left_out))
    return numbers
