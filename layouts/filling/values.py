"""What is known of filling, bleeding and draining: frozen values, lengths in mm, volumes of voxels in mm3.

*Pocket*: one connected piece of the wet volume where air stays when it is filled, or coolant when it is drained.
*Way out*: the place that the pocket's air would have to pass downwards (its coolant upwards) to leave. *Opening*: where
air or coolant may leave the panel's wet volume, or where the loop goes on outside it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from geom.frame import Face, Vec
from geom.outline import Point
from layouts.filling.sequence_values import FillSequence

if TYPE_CHECKING:
    from layouts.plan import Layer

OpeningKind = Literal["fill", "bleed", "drain", "tank", "part", "pump"]
"""The tank's fill port; ports of its own for bleeding or draining; of a separate tank; of a part; the pump's bores."""


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """A mouth of the wet volume in an outer face.

    Parameters
    ----------
    name : str
        Of the port; "pump inlet" and "pump outlet" for the pump's bores.
    kind : OpeningKind
    part : str
        The part that its hose leads to; empty where none does.
    at : (float, float, float)
        Centre of the mouth, [mm].
    voxels : numpy.ndarray
        int32: the wet voxels in the mouth.
    hose : {"rises", "falls"} or None
        Which way its hose leaves as the panel is installed; None: not known.
    """

    name: str
    kind: OpeningKind
    part: str
    at: Vec
    voxels: np.ndarray
    hose: Literal["rises", "falls"] | None = None


@dataclass(frozen=True, slots=True)
class Tilt:
    """An attitude: turned from the installed one, [deg].

    `right` lowers the panel's right side as seen from the front, `front` its front face's side (the top comes
    forward); negative: to the left, to the back.
    """

    right: float
    front: float


@dataclass(frozen=True, slots=True)
class Relief:
    """What clears a pocket, tried on the voxels.

    Parameters
    ----------
    kind : {"bleed", "drain", "plug", "hose", "move", "slope", "tilt"}
        A port of its own at `at` ("bleed", "drain"); the plug of the drain `name` loosened while the panel is filled;
        the hose at the port `name` taken off while the panel is drained, or led upwards so that air leaves through it;
        the port `name` moved to `at` in the file and all routed anew; the panel installed with a small tilt for good;
        the panel tilted while it is filled or drained.
    left_mm3 : float
        What stays then: of the pocket; with "move" and "tilt" of all pockets together.
    name : str
        A port's, or the channel's that the new port opens into; empty for a tilt.
    at : (float, float, float) or None
        [mm]
    tilt : Tilt or None
    """

    kind: Literal["bleed", "drain", "plug", "hose", "move", "slope", "tilt"]
    left_mm3: float
    name: str = ""
    at: Vec | None = None
    tilt: Tilt | None = None


@dataclass(frozen=True, slots=True)
class Pocket:
    """Where air or coolant stays.

    Parameters
    ----------
    volume_mm3 : float
    at : (float, float, float)
        Its highest place (air) or its lowest (coolant): where a port would clear it, [mm].
    way_out : (float, float, float) or None
        [mm]; None where no way leads to any opening.
    depth : float
        How far it reaches past the height of its way out, [mm].
    features : tuple of str
        The features that hold it: the one at its highest (lowest) place, then those that hold most of it.
    reliefs : tuple of Relief
        What clears it: a port added, a plug or a hose, a slope, a tilt; else a port moved. Looked for only where it is
        told of.
    shut : bool
        Whether it is shut in as far as the panel can be filled. False for air where the pump may not run, and coolant
        does not come as far as its way out.
    """

    volume_mm3: float
    at: Vec
    way_out: Vec | None
    depth: float
    features: tuple[str, ...]
    reliefs: tuple[Relief, ...] = ()
    shut: bool = True


@dataclass(frozen=True, slots=True)
class Left:
    """What stays in one attitude: air when filled, coolant when drained; the largest pocket first.

    Parameters
    ----------
    up : (float, float, float)
        Unit vector.
    spacing : float
        Side of the voxels, [mm].
    wet_mm3 : float
        The whole wet volume.
    air, coolant : tuple of Pocket
        Those that are deeper and larger than the steps of the voxels make.
    air_mm3, coolant_mm3 : float
        Of all these pockets.
    leaves : tuple of (str, float)
        Through which opening how much air leaves, [mm3], in the order of openings; those through which none does are
        left out. Together with `air_mm3` and `tank_air_mm3` it is the wet volume.
    tank_air_mm3 : float
        Air that stays in a pocket tank, which is no pocket here: the tank needs some.
    through_hoses : bool
        Whether coolant leaves through the mouths of hoses, taken off, because the panel has no drain.
    air_falling_mm3, coolant_rising_mm3 : float or None
        What would stay if all hoses whose way the file does not tell fell from their ports (air), or rose (coolant),
        [mm3]; None where that is no more.
    """

    up: Vec
    spacing: float
    wet_mm3: float
    air: tuple[Pocket, ...]
    coolant: tuple[Pocket, ...]
    air_mm3: float
    coolant_mm3: float
    leaves: tuple[tuple[str, float], ...] = ()
    tank_air_mm3: float = 0.0
    through_hoses: bool = False
    air_falling_mm3: float | None = None
    coolant_rising_mm3: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class TiltMap:
    """What stays over all tilts.

    Parameters
    ----------
    degrees : tuple of float
        Of each row and column, [deg], small to large.
    air_mm3, coolant_mm3 : numpy.ndarray
        (n, n) float64, [mm3]: rows by `Tilt.front`, columns by `Tilt.right`.
    tank_stays : numpy.ndarray
        (n, n) bool: whether the tank, filled to its level, keeps its outlet covered and its fill port over the
        coolant.
    fill_best, drain_best : Tilt
        The smallest with which about as little stays as can; none where that clears too little to tilt a panel for it.
        For filling only those where `tank_stays`; where it does nowhere, the panel cannot be filled so in any tilt.
    spacing : float
        Side of the voxels, [mm].
    """

    degrees: tuple[float, ...]
    air_mm3: np.ndarray
    coolant_mm3: np.ndarray
    tank_stays: np.ndarray
    fill_best: Tilt
    drain_best: Tilt
    spacing: float


CarryVerdict = Literal["carried", "carried at full speed", "may be carried", "rises back", "locks"]


@dataclass(frozen=True, slots=True)
class Carry:
    """Air in a piece of a channel where coolant flows downwards.

    Parameters
    ----------
    channel, leg : str
    top, foot : (float, float)
        Its upper and lower end in plan, [mm].
    layer : {"back", "front"}
    falls : float
        Height, [mm].
    slope_deg : float
        Below the horizontal, of its steepest piece, [deg].
    bore : float
        Hydraulic diameter, [mm].
    velocity_m_s, full_velocity_m_s : float
        Of the coolant at the operating point, and with the pump at full speed, [m/s].
    clears_m_s : (float, float)
        Velocity that carries a pocket down this slope: by the formula that asks least, and that which asks most, [m/s].
    surely_m_s : float
        That which carries it down any slope, [m/s].
    rise_m_s : float
        How fast a long bubble rises in it by itself in coolant at rest, [m/s]; 0 where it locks.
    verdict : CarryVerdict
    """

    channel: str
    leg: str
    top: Point
    foot: Point
    layer: Layer
    falls: float
    slope_deg: float
    bore: float
    velocity_m_s: float
    full_velocity_m_s: float
    clears_m_s: tuple[float, float]
    surely_m_s: float
    rise_m_s: float
    verdict: CarryVerdict


@dataclass(frozen=True, slots=True)
class LockedBore:
    """A bore or channel so narrow that a bubble stays in it by its surface tension.

    `least` is the diameter from which one rises by itself, [mm]; `bore` its own.
    """

    feature: str
    at: Vec
    bore: float
    least: float


@dataclass(frozen=True, slots=True)
class BenchStep:
    """One step of bleeding or draining, in words of the bench.

    `opening` is the port that is opened; empty where none is.
    """

    text: str
    opening: str = ""


@dataclass(frozen=True, slots=True)
class PortProposal:
    """A port that would clear most.

    Parameters
    ----------
    kind : {"bleed", "drain"}
    channel : str
        The channel that it opens into; "tank" for the pocket.
    on : Face
    at : (float, float, float)
        Centre of its mouth, [mm].
    thread : str
    clears_mm3 : float
        Air or coolant less than without it; of the only drain less than in a closed panel.
    built : bool
        Whether the panel has it already, because the file asks for it.
    also_mm3 : float
        What a built one clears of the other kind: a bleed coolant, for it is open too while the panel is drained; a
        drain air, once its plug is opened for that.
    """

    kind: Literal["bleed", "drain"]
    channel: str
    on: Face
    at: Vec
    thread: str
    clears_mm3: float
    built: bool = False
    also_mm3: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Filling:
    """All of it. `tilts` is None in a plan, which looks at the installed attitude only."""

    left: Left
    sequence: FillSequence | None = None
    carries: tuple[Carry, ...] = ()
    locked: tuple[LockedBore, ...] = ()
    bleed_order: tuple[BenchStep, ...] = ()
    drain_order: tuple[BenchStep, ...] = ()
    proposals: tuple[PortProposal, ...] = ()
    tilts: TiltMap | None = None
