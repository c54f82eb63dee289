"""Why a panel has no layout, as one value: what the terminal, the report and the picture tell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from geom.findings import KeyChange
from geom.outline import Point
from layouts.panel import Panel
from layouts.place import Placement
from layouts.routing.reasons.reason import ReasonKind

FailureKind = ReasonKind | Literal["no place", "refused", "kept route"]
"""Why an instance has no routing; or there is none: pump and tank find no place, what was routed was refused, or a
route that the file keeps cannot stand."""


KINDS: dict[FailureKind, str] = {
    "unreachable": "a channel's end cannot be reached",
    "narrow": "a gap is too narrow",
    "conflict": "channels do not fit together",
    "not found": "no routing was found",
    "no place": "pump and tank find no place",
    "refused": "no routing found keeps all distances",
    "kept route": "a route that the file keeps cannot stand",
}
"""What each kind of reason means."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """What to try: `works` where it was tried and helped: the changed file then has a layout. Of one without changes:
    this place of tank and pump could then be routed (of an unreachable channel, that channel), or the pump then has
    a place.

    One that was not tried, or that cannot be tried here, only may help. `changes` are the remedy as changes to the
    file, all together; empty where it is none that can be written down.
    """

    text: str
    works: bool
    changes: tuple[KeyChange, ...] = ()


@dataclass(frozen=True, slots=True)
class Gap:
    """A gap too narrow for the channels that must pass it, [mm].

    Parameters
    ----------
    start, end : Point
        Where it is narrowest: one on each side.
    between : (str, str)
        What it lies between.
    width, needed : float
        Its width, and that of the channels with their walls.
    must_pass, fit : int
        Channels.
    """

    start: Point
    end: Point
    between: tuple[str, str]
    width: float
    needed: float
    must_pass: int
    fit: int

    @property
    def lacking(self) -> float:
        """What the gap lacks in width, [mm]; 0 where it is wide enough and only the grid is too coarse."""
        return max(0.0, self.needed - self.width)


@dataclass(frozen=True, slots=True)
class Link:
    """A channel that was asked for: its name, and where its ends stand, or might best stand, [mm]."""

    channel: str
    ends: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class LayoutFailure:
    """Why no layout was found; its `str` is the message.

    Parameters
    ----------
    panel : Panel
    placement : Placement or None
        The place of pump and tank that came nearest; None where they find no place.
    kind : {"unreachable", "narrow", "conflict", "not found", "no place", "refused", "kept route"}
    proven : bool
        Whether it is proven that this place cannot be routed, or that there is no place.
    text : str
        What, where and why at this place, in whole sentences; `describe` tells what is known of the panel.
    remedies : tuple of Remedy
        What to try, those that were found to work first.
    channels : tuple of str
        Those concerned.
    links : tuple of Link
        Of those channels.
    cells : tuple of Point
        The places in the way, or where there is too little room, [mm].
    gap : Gap or None
    at : Point
        Where to look first, [mm].
    tried, impossible : int
        Places of pump and tank that were looked at, and those of them that are proven impossible.
    places : int or None
        All places that there are; None where they were not counted.
    key : str
        The key of the file that it is about, empty where it is about the whole panel.
    """

    panel: Panel
    placement: Placement | None
    kind: FailureKind
    proven: bool
    text: str
    remedies: tuple[Remedy, ...]
    channels: tuple[str, ...]
    links: tuple[Link, ...]
    cells: tuple[Point, ...]
    gap: Gap | None
    at: Point
    tried: int = 1
    impossible: int = 0
    places: int | None = 1
    key: str = ""

    @property
    def proven_everywhere(self) -> bool:
        """Whether it is proven that no place of pump and tank can be routed."""
        return self.proven and self.places is not None and self.impossible >= self.places

    @property
    def where(self) -> str:
        """The file, with line and key where it is about one."""
        return self.panel.at_line(self.key) if self.key else self.panel.path

    def __str__(self) -> str:
        """Return the message: one paragraph."""
        told = f"{self.where}: {self.describe()}"
        if self.remedies:
            told += " To try: " + "; ".join(remedy.text for remedy in self.remedies) + "."
        return told

    @property
    def headline(self) -> str:
        """What is known of the whole panel: only what is proven of every place of pump and tank is called proven."""
        return f"no layout: {KINDS[self.kind]} (proven)" if self.proven_everywhere else "no layout was found"

    def describe(self) -> str:
        """Return in one paragraph what is known of the panel, why, and of which places of pump and tank."""
        head = "" if self.proven_everywhere else "no layout was found. "
        return f"{head}{self.describe_reason()} {self.describe_places()}".rstrip()

    def describe_reason(self) -> str:
        """Return the reason, with the place of pump and tank that it holds for unless it is proven of all."""
        if self.placement is None or self.proven_everywhere:
            return self.text
        place = "the only place of pump and tank" if self.places == 1 else "the place looked at closest"
        proof = "proven for this place" if self.proven else "not proven"
        return f"At {place} ({self._tell_place()}) {KINDS[self.kind]} ({proof}): {self.text}"

    def describe_places(self) -> str:
        """Return how many places of pump and tank were looked at or are proven impossible; empty without one."""
        if self.placement is None or self.places is None or (self.places == 1 and not self.proven):
            return ""
        if self.places == 1:
            return f"This is with the {self._tell_place()}, the only place of pump and tank."
        if self.proven_everywhere:
            return (
                f"This is with the {self._tell_place()}; the other places of pump and tank, "
                f"{self.places - 1} of them, are proven impossible too."
            )
        found = "none" if self.impossible == 0 else str(self.impossible)
        verb = "were" if self.impossible > 1 else "was"
        return (
            f"{self.tried} of {self.places} places of pump and tank {'was' if self.tried == 1 else 'were'} looked at; "
            f"{found} of them {verb} proven impossible."
        )

    def _tell_place(self) -> str:
        assert self.placement is not None
        x, y = self.placement.inlet
        return f"pump inlet at ({x:g}, {y:g}) mm, turned {self.placement.turn_deg} deg"
