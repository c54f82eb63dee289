"""The shape of a panel file: its tables, keys, types and single-value ranges.

`check_shape` tells every departure from it in plain words; `panel_schema` is the same shape as JSON Schema for
editors. What one value says about another is the business of `layouts.file_checks`.
"""

from __future__ import annotations

from collections.abc import Callable
from difflib import get_close_matches
from functools import lru_cache, partial
from typing import Annotated, Any, Literal, get_args

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    StringConstraints,
    Tag,
    ValidationError,
    WithJsonSchema,
)

from geom.frame import Face
from geom.units import KINDS, parse_quantity, quantity_pattern
from layouts.positions import Path

MOST_SIZE_MM = 2000.0
NAME_LENGTH = 60

_PAIR, _ONE = "several values", "one value"


def _read_quantity(value: object, kind: str, least: float, most: float, open_below: bool) -> float:
    known = KINDS[kind]
    if not isinstance(value, str):
        number = isinstance(value, int | float) and not isinstance(value, bool)
        what = "has no unit" if number else f"is not a {known.name}"
        raise ValueError(f"{show_value(value)} {what}; write e.g. '{known.example}' (units: {_units(kind)})")
    parsed = parse_quantity(value, kind)
    unit = f" {known.base}" if known.base else ""
    if parsed < least or (open_below and parsed == least):
        raise ValueError(f"'{value}' is too small; it must be {'above' if open_below else 'at least'} {least:g}{unit}")
    if parsed > most:
        raise ValueError(f"'{value}' is too large; it must be at most {most:g}{unit}")
    return parsed


def _units(kind: str) -> str:
    return ", ".join(KINDS[kind].units)


def _quantity(
    kind: str, least: float = -1e12, most: float = 1e12, open_below: bool = False, example: str | None = None
) -> Any:
    read = partial(_read_quantity, kind=kind, least=least, most=most, open_below=open_below)
    return Annotated[
        float,
        BeforeValidator(read),
        WithJsonSchema(
            {
                "type": "string",
                "pattern": quantity_pattern(kind),
                "description": f"{KINDS[kind].name} with its unit: {_units(kind)}",
                "examples": [example or KINDS[kind].example],
            }
        ),
    ]


Size = _quantity("length", 0, MOST_SIZE_MM, open_below=True)
Length = _quantity("length", -MOST_SIZE_MM, MOST_SIZE_MM, example="40 mm")
LengthOrZero = _quantity("length", 0, MOST_SIZE_MM, example="6 mm")
Flow = _quantity("flow", 0, 1.0)
Head = _quantity("head", 0, 1000.0)
Drop = _quantity("pressure", 0, 1e8)
Pressure = _quantity("pressure", 0, 1e7, open_below=True, example="0.5 bar")
Temperature = _quantity("temperature", -273.15)
Angle = _quantity("angle", -3600, 3600)
Velocity = _quantity("velocity", 0, 100, open_below=True)
Power = _quantity("power", 0, 1e6)
Volume = _quantity("volume", 0, 1e6, open_below=True)
Share = _quantity("percent", 0, 1)
Level = _quantity("percent", 0, 1, open_below=True)
Speed = _quantity("speed", 0, 1e6, open_below=True)


def _check_name(name: str) -> str:
    if not name or name != name.strip() or not name.isprintable() or len(name) > NAME_LENGTH:
        raise ValueError(
            f"{show_value(name)} is not a name; write 1 to {NAME_LENGTH} printable characters without spaces at the ends"
        )
    return name


def _refuse_nesting(value: object) -> object:
    if isinstance(value, list):
        raise ValueError("lists inside a parallel group do not nest; write part names, e.g. ['left', 'right']")
    return value


Name = Annotated[str, BeforeValidator(lambda v: _check_name(v) if isinstance(v, str) else v)]
LoopName = Annotated[str, BeforeValidator(_refuse_nesting)]
Pair = Annotated[list[Length], Field(min_length=2, max_length=2)]
SizePair = Annotated[list[Size], Field(min_length=2, max_length=2)]
Corners = Annotated[list[Length], Field(min_length=4, max_length=4)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Count = Annotated[int, Field(strict=True)]
Reason = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
"""(x0, y0, x1, y1)."""


def _either(one: Any, several: Any) -> Any:
    def choose(value: object) -> str:
        return _PAIR if isinstance(value, list) else _ONE

    return Annotated[Annotated[one, Tag(_ONE)] | Annotated[several, Tag(_PAIR)], Discriminator(choose)]


class Entry(BaseModel):
    """A table of the file: unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", defer_build=True)


class PortEntry(Entry):
    """A threaded opening: one of `at`, `within` (front and back) or `between` (an edge) says where."""

    on: Face = Field(description="face that it opens in", examples=["front"])
    thread: str = Field("G1/4", description="a row of the thread table")
    at: _either(Length, Pair) | None = Field(  # type: ignore[valid-type]
        None, description="fixed place: [x, y] on front and back, one length along an edge"
    )
    within: Corners | None = Field(None, description="x0, y0, x1, y1 that it must stay inside")
    between: Pair | None = Field(None, description="span along an edge, from the left or from the bottom")


class PanelTable(Entry):
    """The plate."""

    name: Name = Field(examples=["workshop render"])
    size: SizePair = Field(description="width, height, seen from the front", examples=[["340 mm", "180 mm"]])
    corner_radius: LengthOrZero = Field(0.0, examples=["6 mm"])
    pitch: Size = Field(description="grid: nodes at whole multiples from the lower left", examples=["5 mm"])
    up: Annotated[list[Number], Field(min_length=3, max_length=3)] = Field(
        [0.0, 1.0, 0.0], description="which way is up when installed", examples=[[0, 1, 0]]
    )


class MakeTable(Entry):
    """How the panel is made."""

    method: Literal["milled", "printed"] = Field(examples=["milled"])
    closing: Literal["cord", "bonded", "one-piece"] = Field(examples=["cord"])
    material: str = Field(description="a row of the materials table", examples=["PMMA cast"])
    body: Size = Field(description="thickness of the body", examples=["20 mm"])
    cover: Size | None = Field(None, description="thickness of the cover", examples=["8 mm"])
    cord: Size | None = Field(None, description="cord diameter, a row of the cord table", examples=["2 mm"])
    screw: str | None = Field(None, description="cover screw, a row of the screw table", examples=["M4"])
    cutter: Size | None = Field(None, description="smallest channel cutter", examples=["6 mm"])
    room: Annotated[list[Size], Field(min_length=3, max_length=3)] | None = Field(
        None, description="travel of the machine or printer", examples=[["400 mm", "300 mm", "80 mm"]]
    )


class ChannelTable(Entry):
    """Section of the channels."""

    width: Size = Field(examples=["8 mm"])
    depth: Size = Field(examples=["9 mm"])
    bend_radius: Size = Field(description="centreline radius of bends", examples=["14 mm"])
    layers: Annotated[int, Field(strict=True, ge=1, le=2)] = Field(1, examples=[1])


class CoolantTable(Entry):
    """The coolant."""

    fluid: Literal["water", "ethylene glycol", "propylene glycol"] = Field(examples=["water"])
    mass_fraction: Share | None = Field(None, description="glycol in water, by mass", examples=["30 %"])
    temperature: Temperature = Field(examples=["35 °C"])


class TankTable(Entry):
    """The feed tank."""

    kind: Literal["pocket", "separate"] = Field(examples=["pocket"])
    size: SizePair | None = Field(None, examples=[["90 mm", "55 mm"]])
    depth: Size | None = Field(None, examples=["14 mm"])
    within: Corners | None = Field(None, description="x0, y0, x1, y1 that the pocket must stay inside")
    at: Pair | None = Field(None, description="the pocket's lower left corner", examples=[["200 mm", "110 mm"]])
    outlet_bore: Size | None = Field(None, description="the channel's width unless given")
    fill: PortEntry | None = Field(None, description="fill port of a pocket")
    outlet: PortEntry | None = Field(None, description="where a separate tank's coolant enters the panel")
    inlet: PortEntry | None = Field(None, description="where coolant leaves the panel for a separate tank")
    volume: Volume | None = Field(None, description="volume of a separate tank", examples=["250 mL"])
    level: Level = Field(0.85, description="cold fill level", examples=["85 %"])


class SeatEntry(Entry):
    """A round recess for the pump's body."""

    diameter: Size = Field(examples=["66 mm"])
    depth: LengthOrZero = Field(0.0, examples=["1.5 mm"])


class ScrewsEntry(Entry):
    """The pump's screws on their circle."""

    size: str = Field(description="a row of the screw table", examples=["M4"])
    circle: Size = Field(description="diameter of the screw circle", examples=["76 mm"])
    count: Annotated[int, Field(strict=True, ge=2, le=24)] = Field(examples=[4])


Curve = Annotated[list[tuple[Flow, Head]], Field(min_length=2)]
SpeedRange = Annotated[list[Speed], Field(min_length=2, max_length=2)]


class ChoiceEntry(Entry):
    """One of several pumps to choose from; what it leaves out is as in [pump]."""

    name: Name = Field(examples=["small pump"])
    curve: Curve = Field(description="[flow, head] points", examples=[[["0 L/min", "3.9 m"], ["8 L/min", "2 m"]]])
    inlet_bore: Size | None = Field(None, examples=["10 mm"])
    outlet_bore: Size | None = Field(None, examples=["10 mm"])
    seat: Size | None = Field(None, description="diameter of its seat", examples=["60 mm"])
    least_inlet_head: Head | None = Field(None, description="head its inlet needs", examples=["0.1 m"])
    power: Power | None = Field(None, examples=["10 W"])
    speed: SpeedRange | None = Field(None, description="least, most", examples=[["1200 rpm", "4800 rpm"]])


class PumpTable(Entry):
    """The pump: bolted to a face, seat and screw circle centred on its inlet."""

    on: Literal["front", "back"] = Field(description="face it is bolted to", examples=["front"])
    within: Corners | None = Field(None, description="x0, y0, x1, y1 that the seat must stay inside")
    at: Pair | None = Field(None, description="place of the inlet", examples=[["260 mm", "60 mm"]])
    inlet_bore: Size = Field(examples=["10 mm"])
    outlet_bore: Size = Field(examples=["10 mm"])
    outlet_offset: Pair = Field(
        description="from the inlet to the outlet, before turning", examples=[["20 mm", "0 mm"]]
    )
    turns: Annotated[list[Angle], Field(min_length=1)] = Field(
        [0.0], description="turns allowed, counter-clockwise from the front", examples=[["0 deg", "90 deg"]]
    )
    seat: SeatEntry | None = None
    screws: ScrewsEntry | None = None
    curve: Curve | None = Field(
        None,
        description="[flow, head] points; the first choice's unless given",
        examples=[[["0 L/min", "3.9 m"], ["8 L/min", "2 m"]]],
    )
    choice: list[ChoiceEntry] = Field([], description="pumps to choose from")


class PartTable(Entry):
    """Whatever the loop passes outside the panel."""

    name: Name = Field(examples=["processor block"])
    heat: Power = Field(0.0, examples=["140 W"])
    resistance: Annotated[list[tuple[Flow, Drop]], Field(min_length=1)] = Field(
        description="[flow, pressure drop] points", examples=[[["2 L/min", "5.5 kPa"], ["4 L/min", "20 kPa"]]]
    )
    inlet: PortEntry = Field(description="where coolant leaves the panel for the part")
    outlet: PortEntry = Field(description="where coolant comes back into the panel")


class LoopTable(Entry):
    """The order of flow."""

    order: list[_either(LoopName, list[LoopName])] = Field(  # type: ignore[valid-type]
        description="from tank to tank; an inner list flows in parallel",
        examples=[["tank", "pump", "processor block", "tank"]],
    )


class DrainTable(Entry):
    """Where the panel is emptied."""

    port: PortEntry


class KeepClearTable(Entry):
    """A region that nothing wet, no screw and no port may enter."""

    name: Name = Field(examples=["cable slot"])
    box: Corners = Field(description="x0, y0, x1, y1", examples=[["150 mm", "0 mm", "170 mm", "30 mm"]])


class RulesTable(Entry):
    """Limits of the checks, and findings accepted."""

    least_wall: Size = Field(2.0, examples=["2 mm"])
    most_velocity: Velocity = Field(1.5, examples=["1.5 m/s"])
    test_pressure: Pressure = Field(5e4, examples=["0.5 bar"])
    accept: dict[str, Reason] = Field({}, description="finding code to the reason for accepting it")


class PanelFile(Entry):
    """A panel file."""

    panel: PanelTable
    make: MakeTable
    channel: ChannelTable
    coolant: CoolantTable
    tank: TankTable
    pump: PumpTable
    part: list[PartTable] = Field(min_length=1)
    loop: LoopTable
    drain: DrainTable | None = None
    keep_clear: list[KeepClearTable] = []
    rules: RulesTable = RulesTable()


def check_shape(data: dict[str, Any]) -> tuple[PanelFile | None, list[tuple[Path, str]]]:
    """Return the file's tables, or None and every departure from the shape of a panel file.

    Parameters
    ----------
    data : dict
        A parsed TOML document.

    Returns
    -------
    PanelFile or None
        Lengths in mm, the rest in SI.
    list of (Path, str)
        Where, and what was read and is expected, in the order of the file's tables.
    """
    try:
        return PanelFile.model_validate(data), []
    except ValidationError as error:
        problems = []
        for item in error.errors(include_url=False):
            path = tuple(part for part in item["loc"] if part not in (_PAIR, _ONE))
            problems.append((path, _describe(path, item)))
        return None, problems


@lru_cache(maxsize=1)
def panel_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a panel file."""
    schema = PanelFile.model_json_schema()
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "Panel file",
        "description": "A liquid-cooling distribution panel: the plate, what it joins, and how it is made.",
    }


def show_value(value: object) -> str:
    """Return a value as a message shows it: quoted where it is text, cut where it is long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, str):
        return repr(value) if len(value) <= NAME_LENGTH else repr(value[: NAME_LENGTH - 3] + "...")
    if isinstance(value, int) and abs(value) >= 10**20:
        return f"a whole number of {value.bit_length()} bits"
    return str(value)


def _describe(path: Path, item: Any) -> str:
    """Return pydantic's error in the words of the trade."""
    model, field = _find_field(path)
    read = show_value(item["input"])
    context: dict[str, Any] = item.get("ctx", {})
    expected = _expected(field)
    table = _table_words(path[:-1])
    last = path[-1] if path else ""
    if item["type"] == "extra_forbidden" and model is not None:
        known = list(model.model_fields)
        close = get_close_matches(str(last), known, n=1)
        hint = f" did you mean '{close[0]}'?" if close else ""
        return f"unknown key {show_value(last)};{hint} {table} takes {', '.join(known)}"
    describe = _MESSAGES.get(item["type"])
    if item["type"] == "missing" and isinstance(last, str) and model is not None:
        wanted = _wanted_keys(field)
        return f"missing; {table} needs {wanted or expected}"
    if describe is not None:
        return describe(read, context, expected)
    return f"read {read}: {item['msg']}; expected {expected}"


_MESSAGES: dict[str, Callable[[str, dict[str, Any], str], str]] = {
    "value_error": lambda read, context, expected: str(context["error"]),
    "literal_error": lambda read, context, expected: f"read {read}; expected {context['expected']}",
    "missing": lambda read, context, expected: f"missing; expected {expected}",
    "too_short": lambda read, context, expected: (
        f"read {context['actual_length']} entries; expected at least {context['min_length']}, {expected}"
    ),
    "too_long": lambda read, context, expected: (
        f"read {context['actual_length']} entries; expected at most {context['max_length']}, {expected}"
    ),
    "string_too_short": lambda read, context, expected: f"read {read}; write a reason",
    "greater_than_equal": lambda read, context, expected: f"read {read}; expected at least {context['ge']}",
    "less_than_equal": lambda read, context, expected: f"read {read}; expected at most {context['le']}",
    "string_type": lambda read, context, expected: f"read {read}; expected text in quotes, {expected}",
    "int_type": lambda read, context, expected: f"read {read}; expected a whole number, {expected}",
    "float_type": lambda read, context, expected: f"read {read}; expected a number, {expected}",
    "finite_number": lambda read, context, expected: f"read {read}; expected a finite number, {expected}",
    "list_type": lambda read, context, expected: f"read {read}; expected a list, {expected}",
    "tuple_type": lambda read, context, expected: f"read {read}; expected a list of two, {expected}",
    "dict_type": lambda read, context, expected: f"read {read}; expected a table, {expected}",
    "model_type": lambda read, context, expected: f"read {read}; expected a table, {expected}",
    "model_attributes_type": lambda read, context, expected: f"read {read}; expected a table, {expected}",
}


def _find_field(path: Path) -> tuple[type[Entry] | None, Any]:
    """Return the table model that the last key of `path` belongs to, and that key's field where it is known."""
    model: type[Entry] | None = PanelFile
    field: Any = None
    owner: type[Entry] | None = PanelFile
    for part in path:
        if isinstance(part, int):
            continue
        owner = model
        field = model.model_fields.get(part) if model is not None else None
        model = _model_in(field.annotation) if field is not None else None
    return owner, field


def _model_in(annotation: Any) -> type[Entry] | None:
    """Return the table model inside an annotation such as `list[PartTable] | None`."""
    if isinstance(annotation, type) and issubclass(annotation, Entry):
        return annotation
    for inner in get_args(annotation):
        found = _model_in(inner)
        if found is not None:
            return found
    return None


def _wanted_keys(field: Any) -> str:
    model = _model_in(field.annotation) if field is not None else None
    if model is None:
        return ""
    needed = [key for key, inner in model.model_fields.items() if inner.is_required()]
    return f"this table, with at least {', '.join(needed)}"


def _expected(field: Any) -> str:
    """Return an example of a field as it would stand in the file."""
    if field is None:
        return "a value of the kind its key asks for"
    if field.examples:
        return f"e.g. {_toml(field.examples[0])}"
    model = _model_in(field.annotation)
    if model is not None:
        return f"e.g. {_example_table(model)}"
    return field.description or "a value of the kind its key asks for"


def _example_table(model: type[Entry]) -> str:
    pairs = [
        f"{key} = {_toml(field.examples[0])}"
        for key, field in model.model_fields.items()
        if field.is_required() and field.examples
    ]
    return f"{{ {', '.join(pairs)} }}" if pairs else "a table"


def _toml(value: object) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_toml(inner) for inner in value)}]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def _table_words(path: Path) -> str:
    names = [part for part in path if isinstance(part, str)]
    return f"[{'.'.join(names)}]" if names else "a panel file"
