"""The short form of a new panel: what it takes, read from a message and checked."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from geom.errors import EditRefused
from layouts.file.loop import RESERVED
from layouts.file.quantities import NAME_LENGTH
from layouts.panel import Closing

WIDTHS = (150.0, 600.0)
HEIGHTS = (120.0, 400.0)
FLOWS = (0.3, 5.0)
HEATS = (1.0, 1000.0)
CAPACITIES = (1.0, 200.0)
MOST_PARTS = 6
MOST_BESIDE = 4
"""What the form takes: [mm], [mm], [L/min], [W] of a cooled part, [W/K] of a radiator; parts, and of these side by
side: a channel with more ends takes too long to route for a first look."""

PartKind = Literal["cooled", "radiator"]

WARMED_W_PER_L_MIN_K = 69.4
"""Heat that warms a flow of water of 1 L/min by 1 K, [W]: 4.18 kJ/(kg K) and 0.996 kg/L at 30 °C."""

MOST_RISE_K = 20.0
"""How much all parts together may warm the coolant in a starting file, [K]."""

AIR_C = 22.0
"""Of the room of a starting file, [°C]."""

MOST_COOLANT_C = 50.0
"""Coolant of a starting file stays under it everywhere, [°C]: under what pumps, tubes and PETG stand for years."""


@dataclass(frozen=True, slots=True)
class StartPart:
    """A part of the form.

    Parameters
    ----------
    name : str
    kind : {"cooled", "radiator"}
    rating : float
        Heat that a cooled part gives to the coolant, [W]; heat that a radiator gives to the air per kelvin between
        the coolant and it, [W/K].
    beside : bool
        Whether it shares the flow with the part before it.
    """

    name: str
    kind: PartKind
    rating: float
    beside: bool = False


@dataclass(frozen=True, slots=True)
class StartForm:
    """What a starting file is made from.

    Parameters
    ----------
    name : str
    width, height : float
        Of the panel, [mm].
    closing : {"cord", "bonded", "one-piece"}
    flow : float
        That is wanted, [L/min].
    parts : tuple of StartPart
        In the order of flow.
    """

    name: str
    width: float
    height: float
    closing: Closing
    flow: float
    parts: tuple[StartPart, ...]

    def stages(self) -> tuple[tuple[StartPart, ...], ...]:
        """Return the parts in the order of flow, those side by side in one group."""
        groups: list[tuple[StartPart, ...]] = []
        for part in self.parts:
            if part.beside and groups:
                groups[-1] = (*groups[-1], part)
            else:
                groups.append((part,))
        return tuple(groups)


def read_form(data: Mapping[str, Any]) -> StartForm:
    """Return the form of a message from the page (`StartForm` in messages.ts).

    Parameters
    ----------
    data : mapping
        Anything may be in it.

    Returns
    -------
    StartForm

    Raises
    ------
    EditRefused
        A key is missing, unknown or of the wrong kind; ranges are checked by `check_form`.
    """
    keys = ("name", "width", "height", "closing", "flow", "parts")
    if not isinstance(data, Mapping) or set(data) != set(keys):
        raise EditRefused(f"the form of a new panel has {', '.join(keys)}")
    if not isinstance(data["parts"], list | tuple):
        raise EditRefused("parts: expected a list of parts, each with name, kind, rating and beside")
    parts = []
    for part in data["parts"]:
        if not isinstance(part, Mapping) or set(part) != {"name", "kind", "rating", "beside"}:
            raise EditRefused("parts: expected name, kind, rating and beside of each part")
        if not isinstance(part["beside"], bool):
            raise EditRefused("beside: expected true or false")
        name, rating = _read_text(part["name"], "a part's name"), _read_number(part["rating"], "rating")
        parts.append(StartPart(name, part["kind"], rating, part["beside"]))
    return StartForm(
        name=_read_text(data["name"], "name"),
        width=_read_number(data["width"], "width"),
        height=_read_number(data["height"], "height"),
        closing=data["closing"],
        flow=_read_number(data["flow"], "flow"),
        parts=tuple(parts),
    )


def check_form(form: StartForm) -> None:
    """Refuse a form with a value out of its range, whatever the panel's size.

    Parameters
    ----------
    form : StartForm

    Raises
    ------
    EditRefused
        The message names the value and the range.
    """
    _check_name(form.name, "name")
    for key, value, bounds, unit in (
        ("width", form.width, WIDTHS, "mm"),
        ("height", form.height, HEIGHTS, "mm"),
        ("flow", form.flow, FLOWS, "L/min"),
    ):
        _check_range(key, value, bounds, unit)
    _check_choice("closing", form.closing, get_args(Closing))
    if not 1 <= len(form.parts) <= MOST_PARTS:
        raise EditRefused(f"parts: {len(form.parts)}; give 1 to {MOST_PARTS}")
    names = set(RESERVED)
    for part in form.parts:
        _check_name(part.name, "a part's name")
        if part.name in names:
            why = "a piece of the panel bears it" if part.name in RESERVED else "it stands twice"
            raise EditRefused(f'a part\'s name: "{part.name}": {why}; give each part its own name')
        names.add(part.name)
        _check_choice(f'kind of "{part.name}"', part.kind, get_args(PartKind))
        if part.kind == "cooled":
            _check_range(f'heat of "{part.name}"', part.rating, HEATS, "W")
        else:
            _check_range(f'capacity of "{part.name}"', part.rating, CAPACITIES, "W/K")
    if form.parts[0].beside:
        raise EditRefused(
            f'beside: "{form.parts[0].name}" is the first part; only a later one stands beside another'
        )
    widest = max(form.stages(), key=len)
    if len(widest) > MOST_BESIDE:
        raise EditRefused(
            f'beside: {len(widest)} parts from "{widest[0].name}" on stand side by side; give at most {MOST_BESIDE},'
            " and let the others come after them"
        )
    kinds = [part.kind for part in form.parts]
    if "cooled" not in kinds:
        raise EditRefused("parts: none is cooled; add a part that gives heat to the coolant")
    if "radiator" not in kinds:
        heat = show(sum_heat(form))
        raise EditRefused(f"parts: no radiator; nothing takes the {heat} W of the parts away: add a radiator")


def sum_heat(form: StartForm) -> float:
    """Return the heat of all cooled parts, [W]."""
    return math.fsum(part.rating for part in form.parts if part.kind == "cooled")


def follow_coolant(form: StartForm, pump_w: float, scale: float = 1.0) -> tuple[float, float]:
    """Return how warm the coolant becomes in the tank, and at most, at the flow that is wanted.

    Parameters
    ----------
    form : StartForm
        With a radiator.
    pump_w : float
        What the pump adds, [W].
    scale : float
        What every radiator's capacity is multiplied by, [-].

    Returns
    -------
    (float, float)
        [°C]

    Source
    ------
    Balance of heat as in `layouts.heat`: temperatures are a + b T over the air, T that of the tank.
    """
    carried = WARMED_W_PER_L_MIN_K * form.flow
    a, b = pump_w / carried, 1.0
    reached = [(a, b)]
    for stage in form.stages():
        share = carried / len(stage)
        # A stream that gives all its warmth leaves the radiator as warm as the air.
        lines = [
            (a + part.rating / share, b)
            if part.kind == "cooled"
            else (
                a * (1 - min(1.0, scale * part.rating / share)),
                b * (1 - min(1.0, scale * part.rating / share)),
            )
            for part in stage
        ]
        reached += lines
        a, b = (math.fsum(values) / len(stage) for values in zip(*lines, strict=True))
    over = a / (1 - b)
    return AIR_C + over, AIR_C + max(a + b * over for a, b in reached)


def check_heat(form: StartForm, pump_w: float, most_flow: float) -> None:
    """Refuse a form whose coolant would become too warm.

    Parameters
    ----------
    form : StartForm
        That `check_form` takes.
    pump_w : float
        What the pump adds, [W].
    most_flow : float
        That channels of this panel carry, [L/min].

    Raises
    ------
    EditRefused
        The message names the heat, and the flow or the capacity that it asks for.
    """
    heat = sum_heat(form)
    least = heat / (WARMED_W_PER_L_MIN_K * MOST_RISE_K)
    if form.flow < least:
        flow = f"at least {show(math.ceil(least * 100) / 100)} L/min or " if least <= most_flow else ""
        raise EditRefused(
            f"flow: {show(form.flow)} L/min warms by more than {MOST_RISE_K:g} K with {show(heat)} W from all parts:"
            f" ask for {flow}for less heat"
        )
    hottest = follow_coolant(form, pump_w)[1]
    if hottest <= MOST_COOLANT_C:
        return
    ratings = [part.rating for part in form.parts if part.kind == "radiator"]
    given = math.fsum(ratings)
    told = f"{show(given)} W/K of all radiators let the coolant reach {hottest:.0f} °C with {show(heat)} W from all"
    told += f" parts, over {MOST_COOLANT_C:g} °C in a room of {AIR_C:g} °C"
    low, high = 1.0, CAPACITIES[1] / max(ratings)
    if follow_coolant(form, pump_w, high)[1] > MOST_COOLANT_C:
        raise EditRefused(
            f"capacity: {told}, and larger ones do not help: ask for more flow or less heat, or put parts that stand"
            " side by side one after the other"
        )
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (
            (low, middle) if follow_coolant(form, pump_w, middle)[1] <= MOST_COOLANT_C else (middle, high)
        )
    raise EditRefused(
        f"capacity: {told}: give each radiator {show(math.ceil(high * 100) / 100)} times as much, or less heat"
    )


def show(value: float) -> str:
    """Return a number as the file and its messages have it: two digits behind the point, no idle zeros."""
    return f"{round(value, 2):.10g}"


def _check_range(what: str, value: float, bounds: tuple[float, float], unit: str) -> None:
    least, most = bounds
    if not least <= value <= most:
        raise EditRefused(f"{what}: {show(value)} {unit}; give {show(least)} to {show(most)} {unit}")


def _check_choice(what: str, value: Any, known: tuple[str, ...]) -> None:
    if value not in known:
        raise EditRefused(f"{what}: read {str(value)[:NAME_LENGTH]}; give one of {', '.join(known)}")


def _check_name(name: str, what: str) -> None:
    if not 1 <= len(name) <= NAME_LENGTH or name != name.strip() or not name.isprintable():
        raise EditRefused(
            f"{what}: {json.dumps(name[:NAME_LENGTH])}; give 1 to {NAME_LENGTH} printable characters, no spaces at the"
            " ends"
        )


def _read_text(value: Any, what: str) -> str:
    if not isinstance(value, str):
        raise EditRefused(f"{what}: expected text")
    return value


def _read_number(value: Any, what: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < 1e9:
        raise EditRefused(f"{what}: expected a number")
    return float(value)
