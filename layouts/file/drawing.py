"""The [drawing] table of a panel file: its shape, and as data.

Annotations are not postponed here, as in `layouts.file.model`.
"""

from typing import Annotated

from pydantic import Field

from layouts.drawing_choice import DrawingChoice, PaperName, Projection
from layouts.file.quantities import Entry, Quantity

USUAL = DrawingChoice()

Flatness = Annotated[float, Quantity("length", 0.001, 2.0, example="0.1 mm")]
Roughness = Annotated[float, Quantity("roughness", 0.0125, 50.0, example="1.6 um")]
"""From a lapped face to a sawn one: other values are slips of the unit."""


class DrawingTable(Entry):
    """How the drawing is laid out, and what it asks of the joint faces."""

    projection: Projection = Field(
        default=USUAL.projection,
        description="how its views stand to each other, ISO 5456-2",
        examples=["third angle"],
    )
    paper: PaperName = Field(default=USUAL.paper, description="size of its sheets, ISO 5457", examples=["A4"])
    flatness: Flatness = Field(default=USUAL.flatness, description="of the joint faces", examples=["0.05 mm"])
    roughness: Roughness = Field(
        default=USUAL.roughness, description="Ra of the joint faces", examples=["0.8 um"]
    )


def build_drawing(table: DrawingTable | None) -> DrawingChoice:
    """Return the [drawing] table as data; the defaults where there is none."""
    if table is None:
        return USUAL
    return DrawingChoice(table.projection, table.paper, table.flatness, table.roughness)
