"""What tubes keep clear of: the panel's box, fittings of its ports, the pump's column, tubes laid before.

All but the box are *rods*: straight pieces that a centreline keeps a distance from. What stands in the case beyond the
panel is not known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geom.frame import SAME_MM, Vec, to_vec
from geom.standards import tables
from layouts.faces import face_z, front_face_z
from layouts.panel import Panel
from layouts.place import pump_reach
from layouts.plan import PlacedPort, Routed
from layouts.tubes.centreline import trace_chords
from layouts.tubes.ends import leave_face
from layouts.tubes.gaps import lack_from_box, lack_from_rods
from layouts.tubes.values import TooNear

PUMP_COLUMN = 1000.0
"""How far off its face the pump is taken to stand, [mm]: the file does not give its height."""


@dataclass(frozen=True, slots=True, eq=False)
class Rods:
    """Straight pieces of one thing: its name, its ends (m, 2, 3) float [mm], and how far centrelines stay off, [mm]."""

    what: str
    ends: np.ndarray
    needs: float


@dataclass(frozen=True, slots=True, eq=False)
class Obstacles:
    """What one tube keeps clear of.

    Parameters
    ----------
    low, high : numpy.ndarray
        (3,) float: corners of the panel's box, [mm].
    off_box : float
        How far centrelines stay off it, [mm]; not the first straight, in the tube's own fitting.
    rods : tuple of Rods
    radius : float
        Of the bends, [mm].
    """

    low: np.ndarray
    high: np.ndarray
    off_box: float
    rods: tuple[Rods, ...]
    radius: float

    def lack(self, points: np.ndarray, enough: float = np.inf) -> np.ndarray:
        """Return by how much each centreline comes too near to anything, (n,) float, [mm]; 0 where it is clear.

        Parameters
        ----------
        points : (n, m, 3) float
            Whose bends fit, [mm].
        enough : float
            One that lacks more is not measured on, [mm].
        """
        return self.lack_chains(np.ascontiguousarray(trace_chords(points, self.radius)), enough)

    def lack_chains(self, chains: np.ndarray, enough: float = np.inf) -> np.ndarray:
        """Return the same of chains of straight pieces, (n, k + 1, 3) float [mm]; the first lies in its own fitting."""
        lacks = lack_from_box(chains, self.low, self.high, self.off_box)
        if self.rods:
            ends = np.concatenate([rods.ends for rods in self.rods])
            needs = np.concatenate([np.full(len(rods.ends), rods.needs) for rods in self.rods])
            lacks = np.maximum(lacks, lack_from_rods(chains, ends, needs, enough))
        return lacks

    def list_near(self, line: np.ndarray) -> tuple[TooNear, ...]:
        """Return what one centreline, (m, 3) float [mm], comes too near to."""
        chain = trace_chords(line[None], self.radius)[0]
        # Each piece by itself, behind one that the box does not count.
        pieces = np.stack([chain[:-1], chain[:-1], chain[1:]], axis=1)
        found: list[TooNear] = []

        def note(what: str, lacks: np.ndarray, needs: float) -> None:
            if len(lacks) and float(lacks.max()) > SAME_MM:
                k = int(np.argmax(lacks))
                at = (pieces[k, 1] + pieces[k, 2]) / 2
                found.append(TooNear(what, needs - float(lacks[k]), needs, to_vec(at)))

        if len(pieces) > 1:
            note(
                "the panel",
                np.concatenate([[0.0], lack_from_box(pieces[1:], self.low, self.high, self.off_box)]),
                self.off_box,
            )
        for rods in self.rods:
            needs = np.full(len(rods.ends), rods.needs)
            note(rods.what, lack_from_rods(pieces, rods.ends, needs, np.inf), rods.needs)
        return tuple(found)


def panel_box(panel: Panel) -> tuple[Vec, Vec]:
    """Return the lower and the upper corner of body and covers, [mm]."""
    return (0.0, 0.0, face_z(panel, "back")), (panel.width, panel.height, front_face_z(panel))


def is_in_panel(panel: Panel, point: Vec) -> bool:
    """Return whether a point lies inside body or covers, taken as a box."""
    low, high = panel_box(panel)
    return all(a - SAME_MM < p < b + SAME_MM for a, p, b in zip(low, point, high, strict=True))


def list_rods(panel: Panel, routed: Routed) -> tuple[tuple[str, Rods], ...]:
    """Return the fittings of the panel's ports and the pump, each with the port's name, "" for the pump.

    A fitting is taken as a round piece of its collar's diameter that reaches as far as a tube is inserted.

    Parameters
    ----------
    panel : Panel
        With tubing.
    routed : Routed
    """
    assert panel.tubing is not None, "a panel with tubes says what they are of"
    half = panel.tubing.outer / 2
    found = [(port.name, _fitting(panel, port)) for port in routed.ports]
    z, out = face_z(panel, panel.pump.on), leave_face(panel.pump.on)[2]
    x, y = routed.pump.inlet
    column = np.array([[[x, y, z], [x, y, z + out * PUMP_COLUMN]]])
    return (*found, ("", Rods("the pump", column, pump_reach(panel) + half)))


def tube_rods(name: str, line: np.ndarray, radius: float, outer: float) -> Rods:
    """Return a laid tube as what others keep off.

    Parameters
    ----------
    name : str
    line : (m, 3) float
        Its ends and corners, [mm].
    radius, outer : float
        Of its bends, and its diameter, [mm].
    """
    chords = trace_chords(line[None], radius)[0]
    return Rods(name, np.stack([chords[:-1], chords[1:]], axis=1), outer)


def _fitting(panel: Panel, port: PlacedPort) -> Rods:
    assert panel.tubing is not None
    collar = tables.thread(port.thread).collar / 2
    # A rod's end is round: it is shorter by its radius than the fitting, whose end is flat.
    length = max(panel.tubing.stop + panel.tubing.insertion - collar, 0.0)
    mouth, out = np.array(port.at), np.array(leave_face(port.on))
    ends = np.array([[mouth, mouth + length * out]])
    return Rods(f'the fitting of port "{port.name}"', ends, collar + panel.tubing.outer / 2)
