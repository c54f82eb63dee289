"""Tilts in words of the bench."""

from __future__ import annotations

from geom.words import join_names
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Tilt
from layouts.installed import lies_flat
from layouts.panel import Panel

QUARTER_DEG = 90.0
"""Tilts from here on stand a panel on an edge, [deg]."""


def name_tilt(panel: Panel, tilt: Tilt) -> str:
    """Return a tilt as it is: "15° to the left and 7.5° backwards", "upper edge lifted by 30°", "as installed".

    Parameters
    ----------
    panel : Panel
        Where it lies flat, nothing of it looks forwards: its edges are told.
    tilt : Tilt
    """
    if tilt == Tilt(0.0, 0.0):
        return "as installed"
    if _stands(tilt):
        return f"on its {_name_lowest(panel, tilt)} edge"
    if lies_flat(panel):
        return " and ".join(f"{edge} edge lifted by {by:g}°" for edge, by in _list_lifts(panel, tilt))
    return " and ".join(f"{_size_of(one):g}° {name_side(panel, one)}" for one in _split(tilt))


def say_tilt(panel: Panel, tilt: Tilt) -> str:
    """Return what to do: "tilt the panel by 15° to the left", "lift the panel's upper edge by 30°".

    Parameters
    ----------
    panel : Panel
    tilt : Tilt
    """
    if _stands(tilt):
        return f"stand the panel on its {_name_lowest(panel, tilt)} edge"
    if lies_flat(panel) and tilt != Tilt(0.0, 0.0):
        lifts = tuple(f"{edge} edge by {by:g}°" for edge, by in _list_lifts(panel, tilt))
        return f"lift the panel's {join_names(lifts)}"
    return f"tilt the panel by {name_tilt(panel, tilt)}"


def name_side(panel: Panel, tilt: Tilt) -> str:
    """Return the way of a tilt about one axis: "to the left", "forwards"; where the panel lies flat "upper edge up".

    Parameters
    ----------
    panel : Panel
    tilt : Tilt
    """
    if lies_flat(panel):
        return f"{_name_lifted(panel, tilt)} edge up"
    if tilt.right:
        return f"to the {'right' if tilt.right > 0 else 'left'}"
    return "forwards" if tilt.front > 0 else "backwards"


def _stands(tilt: Tilt) -> bool:
    return _size_of(tilt) >= QUARTER_DEG


def _size_of(tilt: Tilt) -> float:
    return max(abs(tilt.right), abs(tilt.front))


def _split(tilt: Tilt) -> tuple[Tilt, ...]:
    """Return a tilt as one about each axis, those of nothing left out."""
    return tuple(one for one in (Tilt(tilt.right, 0.0), Tilt(0.0, tilt.front)) if _size_of(one))


def _name_lowest(panel: Panel, tilt: Tilt) -> str:
    """Return the edge that is lowest once the panel is tilted."""
    return _name_edge(*(-c for c in tilted_up(panel.up, tilt)[:2]))


def _list_lifts(panel: Panel, tilt: Tilt) -> tuple[tuple[str, float], ...]:
    """Return which edges of a panel that lies flat are lifted, and by how much, [deg]."""
    return tuple((_name_lifted(panel, one), _size_of(one)) for one in _split(tilt))


def _name_lifted(panel: Panel, tilt: Tilt) -> str:
    x, y, _ = (a - b for a, b in zip(tilted_up(panel.up, tilt), panel.up, strict=True))
    return _name_edge(x, y)


def _name_edge(x: float, y: float) -> str:
    """Return the edge towards which a direction in the panel's plane points most."""
    if abs(y) > abs(x):
        return "upper" if y > 0 else "lower"
    return "right" if x > 0 else "left"
