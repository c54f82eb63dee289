"""Plate, making, mass and cost of one plan."""

from __future__ import annotations

import math
from collections.abc import Iterator

from exports.comparing.errors import MASS_BAND
from exports.comparing.values import Figure, NamedFigure
from geom.units import ml
from layouts.cost.parts import weigh_parts
from layouts.cost.print_time import BAND
from layouts.cost.quantities import cost_sheet, time_print
from layouts.milling.cut_times import TIME_BAND
from layouts.panel import Panel
from layouts.plan import Plan
from layouts.printing.printed import Split


def list_plate(plan: Plan) -> Iterator[NamedFigure]:
    """Yield the plate's sizes and materials.

    Parameters
    ----------
    plan : Plan
    """
    panel, make = plan.panel, plan.panel.make
    covered = make.closing != "one-piece"
    yield NamedFigure("width", "mm", Figure(panel.width))
    yield NamedFigure("height", "mm", Figure(panel.height))
    yield NamedFigure("thickness of the body", "mm", Figure(make.body))
    if covered:
        yield NamedFigure("thickness of the cover", "mm", Figure(make.cover))
    yield NamedFigure("thickness in all", "mm", Figure(_thickness(panel)))
    yield NamedFigure("material", "", Figure(make.material))
    if covered:
        yield NamedFigure("material of the cover", "", Figure(make.cover_row))
    yield NamedFigure("closing", "", Figure(make.closing))
    yield NamedFigure("faces with channels", "", Figure(panel.channel.layers, 0.0, 0))


def _thickness(panel: Panel) -> float:
    covers = 0 if panel.make.closing == "one-piece" else panel.channel.layers
    return panel.make.body + covers * panel.make.cover


def list_making(plan: Plan) -> Iterator[NamedFigure]:
    """Yield how it is made, and how long that takes.

    Parameters
    ----------
    plan : Plan
    """
    yield NamedFigure("method", "", Figure(plan.panel.make.method))
    milled, printed = plan.milled, plan.printed
    if milled is not None and milled.setups:
        yield NamedFigure("set-ups for milling", "", Figure(len(milled.setups), 0.0, 0))
        yield NamedFigure("milling and drilling", "min", Figure(milled.minutes, TIME_BAND * milled.minutes))
        yield NamedFigure("cut out of the parts", "cm3", Figure(ml(milled.removed_mm3), 0.0, 0))
    if printed is not None:
        time = time_print(plan, weigh_parts(plan.panel, plan.detail, milled, {}))
        if time is not None:
            yield NamedFigure("printing", "h", Figure(time.hours, time.band * time.hours))
        yield NamedFigure("lies in the printer", "", Figure(printed.pose.name))
        yield NamedFigure("split", "", Figure(_tell_split(printed.split)))


def _tell_split(split: Split | None) -> str:
    return "in one piece" if split is None else "in two pieces"


def list_mass(plan: Plan) -> Iterator[NamedFigure]:
    """Yield the masses of the finished parts and of what they are cut from, by the plan's features.

    Parameters
    ----------
    plan : Plan
    """
    parts = weigh_parts(plan.panel, plan.detail, plan.milled, {})
    finished = math.fsum(part.mass_kg for part in parts)
    terms = tuple((part.part, part.mass_kg, MASS_BAND * part.mass_kg) for part in parts)
    yield NamedFigure("all parts", "kg", Figure(finished, MASS_BAND * finished, terms=terms))
    for part in parts:
        yield NamedFigure(part.part, "kg", Figure(part.mass_kg, MASS_BAND * part.mass_kg))
    stock = math.fsum(part.stock_kg for part in parts)
    if stock > 0.0:
        yield NamedFigure("sheets that they are cut from", "kg", Figure(stock, 0.0, 3))


def list_cost(plan: Plan) -> Iterator[NamedFigure]:
    """Yield what all that is priced costs; nothing without prices.

    Parameters
    ----------
    plan : Plan
    """
    sheet = cost_sheet(plan)
    if sheet.total is None:
        return
    hours_band = TIME_BAND if plan.printed is None else BAND
    terms = tuple(
        (f"{item.item} {number}", item.sum, item.sum * hours_band if item.unit == "h" else 0.0)
        for number, item in enumerate(sheet.items)
        if item.sum is not None
    )
    error = math.fsum(one for _, _, one in terms)
    yield NamedFigure("all that is priced", sheet.currency, Figure(sheet.total, error, terms=terms))
    for name, total in _sums(plan).items():
        hours = name == "machine"
        band = hours_band if hours else 0.0
        yield NamedFigure(name, sheet.currency, Figure(total, band * total), single=True)


def _sums(plan: Plan) -> dict[str, float]:
    sums: dict[str, float] = {}
    for item in cost_sheet(plan).items:
        if item.sum is not None:
            sums[item.item] = sums.get(item.item, 0.0) + item.sum
    return sums
