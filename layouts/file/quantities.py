"""What every table of a panel file is made of: quantities with their units, names, pairs, boxes, chains.

Annotations are not postponed here: pydantic would evaluate each from its text, which costs start-up time.
"""

import json
import math
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Discriminator, Field, StringConstraints, Tag
from pydantic_core import core_schema

from geom.units import (
    KINDS,
    L_MIN_M3_S,
    ZERO_CELSIUS_K,
    list_units,
    parse_quantity,
    quantity_pattern,
    show_like,
)

MOST_SIZE_MM = 2000.0
LEAST_SIZE_MM = 1e-3

# Below these a value is a slip of the unit: no loop, part or radiator comes near.
LEAST_FLOW_M3_S = 0.001 * L_MIN_M3_S
LEAST_DROP_PA = 0.1
LEAST_CONDUCTANCE_W_K = 0.01
NAME_LENGTH = 60

MOST_LISTS = 4
"""How deep the lists of the loop's order nest, the order itself counted: the types below are written out."""

SEVERAL, ONE = "several values", "one value"


@dataclass(frozen=True, slots=True)
class Quantity:
    """Reads "8 mm" as a number in the base unit of `kind`, from `least` (or above it) to `most`."""

    kind: str
    least: float = -1e12
    most: float = 1e12
    above: bool = False
    example: str = ""

    def read(self, value: object) -> float:
        """Return the value; ValueError says what to write."""
        known = KINDS[self.kind]
        if not isinstance(value, str):
            number = isinstance(value, int | float) and not isinstance(value, bool)
            what = "has no unit" if number else f"is not a {known.name}"
            shown = show_value(value)
            raise ValueError(f"{shown} {what}; write e.g. '{known.example}' (units: {list_units(self.kind)})")
        parsed = parse_quantity(value, self.kind)
        if parsed < self.least or (self.above and parsed == self.least):
            bound = "above" if self.above else "at least"
            least = show_like(self.least, self.kind, value)
            raise ValueError(f"'{value}' is too small; it must be {bound} {least}")
        if parsed > self.most:
            most = show_like(self.most, self.kind, value)
            raise ValueError(f"'{value}' is too large; it must be at most {most}")
        return parsed

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        known = KINDS[self.kind]
        return {
            "type": "string",
            "pattern": quantity_pattern(self.kind),
            "description": f"{known.name} with its unit: {list_units(self.kind)}",
            "examples": [self.example or known.example],
        }


Size = Annotated[float, Quantity("length", LEAST_SIZE_MM, MOST_SIZE_MM)]
CutterSize = Annotated[float, Quantity("length", 0.1, MOST_SIZE_MM, example="6 mm")]
LineWidth = Annotated[float, Quantity("length", 0.1, 2.0, example="0.45 mm")]
LayerHeight = Annotated[float, Quantity("length", 0.01, 1.0, example="0.2 mm")]
"""No end mill, line or layer of a print is smaller, no line or layer larger: such values are slips of the unit."""
Clearance = Annotated[float, Quantity("length", 0, 1.0, example="0.3 mm")]
Length = Annotated[float, Quantity("length", -MOST_SIZE_MM, MOST_SIZE_MM, example="40 mm")]
LengthOrZero = Annotated[float, Quantity("length", 0, MOST_SIZE_MM, example="6 mm")]
Flow = Annotated[float, Quantity("flow", 0, 1.0)]
SomeFlow = Annotated[float, Quantity("flow", LEAST_FLOW_M3_S, 1.0)]
Head = Annotated[float, Quantity("head", 0, 1000.0)]
Drop = Annotated[float, Quantity("pressure", LEAST_DROP_PA, 1e8)]
Pressure = Annotated[float, Quantity("pressure", 0, 1e7, above=True, example="0.5 bar")]
Temperature = Annotated[float, Quantity("temperature", -ZERO_CELSIUS_K)]
Angle = Annotated[float, Quantity("angle", -3600, 3600)]
Velocity = Annotated[float, Quantity("velocity", 0, 100, above=True)]
Power = Annotated[float, Quantity("power", 0, 1e6)]
Volume = Annotated[float, Quantity("volume", 0, 1e6, above=True)]
Share = Annotated[float, Quantity("percent", 0, 1)]
Level = Annotated[float, Quantity("percent", 0, 1, above=True)]
Speed = Annotated[float, Quantity("speed", 0, 1e6, above=True)]
SpindleSpeed = Annotated[float, Quantity("speed", 100, 200_000, example="18000 rpm")]
Sound = Annotated[float, Quantity("sound", 0, 150)]
Conductance = Annotated[float, Quantity("conductance", LEAST_CONDUCTANCE_W_K, 1e5)]


def _check_name(name: str) -> str:
    if len(name) > NAME_LENGTH:
        raise ValueError(
            f"{show_value(name)} has {len(name)} characters; a name has at most {NAME_LENGTH}: write a shorter one"
        )
    if not name or name != name.strip() or not name.isprintable():
        raise ValueError(
            f"{show_value(name)} is not a name; write 1 to {NAME_LENGTH} printable characters,"
            " no spaces at the ends"
        )
    return name


def _refuse_nesting(value: object) -> object:
    if isinstance(value, list):
        raise ValueError(
            f"lists in the loop's order nest at most {MOST_LISTS} deep; write a part's name here"
        )
    return value


Name = Annotated[str, BeforeValidator(lambda v: _check_name(v) if isinstance(v, str) else v)]
InnermostName = Annotated[Name, BeforeValidator(_refuse_nesting)]
Pair = Annotated[list[Length], Field(min_length=2, max_length=2)]
SizePair = Annotated[list[Size], Field(min_length=2, max_length=2)]
Corners = Annotated[list[Length], Field(min_length=4, max_length=4)]
"""x0, y0, x1, y1."""
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Price = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=0, le=1e9)]
Tolerance = Literal[
    "f", "m", "c", "v", "fH", "fK", "fL", "mH", "mK", "mL", "cH", "cK", "cL", "vH", "vK", "vL"
]
"""General tolerances, ISO 2768-1 and, after it, ISO 2768-2."""
Reason = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


def _one_or_several(value: object) -> str:
    return SEVERAL if isinstance(value, list) else ONE


Place = Annotated[Annotated[Length, Tag(ONE)] | Annotated[Pair, Tag(SEVERAL)], Discriminator(_one_or_several)]
InnerChain = Annotated[
    Annotated[Name, Tag(ONE)] | Annotated[list[InnermostName], Tag(SEVERAL)], Discriminator(_one_or_several)
]
InnerGroup = Annotated[
    Annotated[Name, Tag(ONE)] | Annotated[list[InnerChain], Tag(SEVERAL)], Discriminator(_one_or_several)
]
Chain = Annotated[
    Annotated[Name, Tag(ONE)] | Annotated[list[InnerGroup], Tag(SEVERAL)], Discriminator(_one_or_several)
]
Step = Annotated[
    Annotated[Name, Tag(ONE)] | Annotated[list[Chain], Tag(SEVERAL)], Discriminator(_one_or_several)
]
"""A part's name, or a parallel group of names and chains, whose lists are groups again: 4 lists deep."""


def _check_choice(value: object) -> object:
    """Return "none" or "auto"; ValueError says what to write, in brackets where it is a channel's name."""
    if value in ("none", "auto"):
        return value
    is_name = isinstance(value, str) and (" - " in value or value in ("drain", "tank"))
    meant = f"; is [{json.dumps(value, ensure_ascii=False)}] meant?" if is_name else ""
    raise ValueError(f'read {show_value(value)}; expected "auto", "none" or a list of channel names{meant}')


ServicePorts = Annotated[
    Annotated[Literal["none", "auto"], BeforeValidator(_check_choice), Tag(ONE)]
    | Annotated[list[str], Tag(SEVERAL)],
    Discriminator(_one_or_several),
]
"""Where ports for bleeding or draining stand: "none", "auto", or names of channels."""


class Entry(BaseModel):
    """A table of the file: unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", defer_build=True)


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
        return f"a whole number of about {math.ceil(value.bit_length() * math.log10(2))} digits"
    return str(value)
