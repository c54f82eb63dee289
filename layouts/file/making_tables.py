"""The tables of a panel file that tell with what it is made, and what that costs.

Annotations are not postponed here, as in `layouts.file.model`.
"""

from typing import Annotated, Literal

from pydantic import Field

from geom.frame import Face
from layouts.file.quantities import (
    Angle,
    Clearance,
    CutterSize,
    Entry,
    LayerHeight,
    LengthOrZero,
    LineWidth,
    Name,
    Price,
    Share,
    Size,
    SizePair,
    SpindleSpeed,
)


class CutterEntry(Entry):
    """An end mill at hand."""

    diameter: CutterSize = Field(examples=["6 mm"])
    reach: Size | None = Field(
        default=None, description="how deep it cuts before its holder touches", examples=["30 mm"]
    )
    teeth: Annotated[int, Field(strict=True, ge=1, le=12)] = Field(default=2, examples=[2])


class MillingTable(Entry):
    """What a milled panel is cut with."""

    cutters: list[CutterEntry] | None = Field(
        default=None,
        min_length=1,
        description="end mills at hand; the common sizes from 1 to 12 mm unless given",
        examples=[[{"diameter": "6 mm", "reach": "30 mm"}]],
    )
    edges: Literal["machine", "drill press"] = Field(
        default="machine",
        description="where edge bores are drilled: standing on the machine, or on a drill press",
        examples=["drill press"],
    )
    stock: SizePair | None = Field(
        default=None,
        description="width and height of the sheet that it is cut from",
        examples=[["350 mm", "190 mm"]],
    )
    speed: SpindleSpeed | None = Field(
        default=None, description="most turns of the spindle", examples=["18000 rpm"]
    )


class PrintingTable(Entry):
    """How a printed panel is printed."""

    process: Literal["filament", "resin"] = Field(
        default="filament", description="melted filament, or resin hardened by light", examples=["filament"]
    )
    line_width: LineWidth | None = Field(
        default=None, description="width of one line of filament", examples=["0.45 mm"]
    )
    layer: LayerHeight | None = Field(default=None, description="height of one layer", examples=["0.2 mm"])
    lies_on: Face | None = Field(
        default=None, description="face that lies on the bed; chosen unless given", examples=["bottom"]
    )
    tilts: list[Angle] = Field(
        default=[], description="tilts that are tried beside the six faces", examples=[["45 deg"]]
    )
    roofs: Literal["auto", "flat", "pointed", "round"] = Field(
        default="auto",
        description="shape of the roofs over channels that lie in the print",
        examples=["auto"],
    )
    port_threads: Literal["tapped", "printed"] = Field(
        default="tapped",
        description="threads of the ports: tapped afterwards, or printed",
        examples=["printed"],
    )
    thread_clearance: Clearance | None = Field(
        default=None, description="what printed threads are wider on the diameter", examples=["0.3 mm"]
    )
    bore_offset: LengthOrZero | None = Field(
        default=None, description="what bores are made wider on the diameter", examples=["0.2 mm"]
    )
    shrink: Share = Field(default=0.0, description="what the print shrinks, made up for", examples=["0.4 %"])


class PricesTable(Entry):
    """Prices, all in one currency; what is not given is left out of the sum."""

    currency: Name = Field(examples=["EUR"])
    material_per_kg: Price | None = Field(default=None, examples=[12.5])
    cover_material_per_kg: Price | None = Field(default=None, examples=[12.5])
    cord_per_m: Price | None = Field(default=None, examples=[1.8])
    screw_each: Price | None = Field(default=None, examples=[0.12])
    insert_each: Price | None = Field(default=None, examples=[0.35])
    fitting_each: dict[str, Price] = Field(
        default={}, description="thread to the price of a fitting", examples=[{"G1/4": 4.2}]
    )
    coolant_per_l: Price | None = Field(default=None, examples=[6.0])
    machine_per_h: Price | None = Field(
        default=None, description="of the mill or the printer", examples=[35.0]
    )
