"""A milled panel whose bores may be planted: the hand-made sample, and bores beside what it has."""

from __future__ import annotations

from dataclasses import dataclass, replace

from geom.features import Cylinder, Detail, Feature, Kind
from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.detail import detail_panel
from layouts.milling.plan_milling import plan_milling
from layouts.milling.work import Milled
from layouts.panel import Panel
from tests.layouts.sample_routed import sample_panel, sample_routed


@dataclass(frozen=True, slots=True)
class Bored:
    """A panel and its features."""

    panel: Panel
    detail: Detail

    @property
    def milled(self) -> Milled | None:
        """How it is cut."""
        return plan_milling(self.panel, self.detail)

    def plant(self, *features: Feature, alone: bool = False) -> Bored:
        """Return it with more features, or with these only."""
        kept = () if alone else self.detail.features
        return replace(self, detail=replace(self.detail, features=(*kept, *features)))


def make_bored() -> Bored:
    """Return the sample as it is."""
    panel, routed = sample_panel(), sample_routed()
    gaps = clearances_of(panel)
    return Bored(panel, detail_panel(panel, routed, close_panel(panel, routed, gaps), gaps))


def bore(
    name: str,
    mouth: tuple[float, float, float],
    direction: tuple[float, float, float],
    length: float,
    radius: float,
    kind: Kind = "port",
    **more: object,
) -> Feature:
    """Return a bore with a name."""
    medium = "dry" if kind in ("screw hole", "clearance hole") else "wet"
    feature = Feature(name, kind, medium, Cylinder(mouth, direction, length, radius))
    return replace(feature, **more)


BORED = make_bored()
