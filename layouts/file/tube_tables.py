"""The tables of a panel file that tell where parts' ports stand in the case, and what joins them.

Annotations are not postponed here, as in `layouts.file.model`.
"""

from typing import Annotated

from pydantic import Field

from layouts.file.quantities import Entry, Length, LengthOrZero, Number, Size

Point = Annotated[list[Length], Field(min_length=3, max_length=3)]
Direction = Annotated[list[Number], Field(min_length=3, max_length=3)]


class MeetsEntry(Entry):
    """A part's own port in the case's frame."""

    at: Point = Field(description="where its tube ends in it", examples=[["120 mm", "40 mm", "95 mm"]])
    faces: Direction = Field(
        description="out of the part, along which its tube leaves it", examples=[[0, 0, -1]]
    )


class CaseTable(Entry):
    """How the panel stands in the case."""

    origin: Point = Field(
        default=[0.0, 0.0, 0.0],
        description="the panel's lower left corner at the joint, in the case's frame",
        examples=[["40 mm", "25 mm", "60 mm"]],
    )
    right: Direction = Field(
        default=[1.0, 0.0, 0.0],
        description="the panel's x, to the right as seen from its front, in the case's frame",
        examples=[[1, 0, 0]],
    )
    front: Direction = Field(
        default=[0.0, 0.0, 1.0],
        description="the panel's z, out of its front, in the case's frame",
        examples=[[0, 0, 1]],
    )


class TubeTable(Entry):
    """The tubes between panel and parts."""

    outer: Size = Field(description="outer diameter", examples=["10 mm"])
    bend_radius: Size | None = Field(
        default=None,
        description="of the centreline in bends; tubes stay straight unless given",
        examples=["30 mm"],
    )
    stop: LengthOrZero = Field(
        description="from the seat of a fitting on the panel to where a tube ends in it", examples=["6 mm"]
    )
    insertion: LengthOrZero = Field(description="length of tube inside each fitting", examples=["12 mm"])
