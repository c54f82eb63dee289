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
    kind : {"bleed", "drain", "hose", "move", "tilt"}
        A port of its own at `at` ("bleed", "drain"); the hose taken off at the port `name` while the panel is drained;
        the port `name` moved to `at` in the file and all routed anew; the panel tilted.
    left_mm3 : float
        What stays then: of the pocket; with "move" and "tilt" of all pockets together.
    name : str
        A port's, or the channel's that the new port opens into; empty for a tilt.
    at : (float, float, float) or None
        [mm]
    tilt : Tilt or None
    """

    kind: Literal["bleed", "drain", "hose", "move", "tilt"]
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
        The features that hold it, most of it first.
    reliefs : tuple of Relief
        What clears it: a port moved or added, then a tilt, then a hose off; looked for only where it is told of.
    """

    volume_mm3: float
    at: Vec
    way_out: Vec | None
    depth: float
    features: tuple[str, ...]
    reliefs: tuple[Relief, ...] = ()


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
        Where least stays; of several the smallest. For filling only those where `tank_stays`, if there are any.
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


StepKind = Literal["pour", "inlet covered", "level reached", "run", "top up", "end"]


@dataclass(frozen=True, slots=True, eq=False)
class FillStep:
    """One step of filling: what is done, and how things stand after it.

    Parameters
    ----------
    kind : StepKind
        "pour": coolant goes in until it first stands at the pump's inlet; "inlet covered": until the whole inlet and
        the tank's outlet stand in coolant; "level reached": until the tank reads its level with the pump at rest;
        "run": the pump runs until the tank has fallen as far as it may; "top up": the tank is filled to its level
        again; "end": the loop is full. One that has no time of its own is left out: "pour" and "inlet covered" where
        the inlet is not reached, all from "run" on where the pump may not run.
    times : int
        How often run and top-up are done in turn; 1 for all others. A run of many is told as the first one leaves
        things, a top-up as the last one does.
    poured_ml, total_ml : float
        In this step (all `times` together), and since the start, [mL].
    level_mm : float or None
        Surface of the coolant in the tank over its lowest place, along up, [mm]; None: empty or not known.
    level : float or None
        Share of the tank that is full, [-]; None where it is not known.
    loop_share : float
        Share of what channels, parts and hoses can take that is full, [-].
    wet : numpy.ndarray
        (n,) bool: the voxels that hold coolant.
    """

    kind: StepKind
    times: int
    poured_ml: float
    total_ml: float
    level_mm: float | None
    level: float | None
    loop_share: float
    wet: np.ndarray


@dataclass(frozen=True, slots=True)
class DryInlet:
    """Why the pump's inlet may be dry when the tank reads full.

    Parameters
    ----------
    cause : {"air", "sill", "lock"}
        Air stays at the inlet or in the feed over it; the way to it rises over the coolant in the tank; air cannot come
        up through the feed because a bubble locks in it.
    why : str
        One clause, with its numbers.
    at : (float, float, float)
        [mm]
    value, limit : float
        In `unit`.
    unit : str
        "%" of the section that holds air; "mm" of height over the coolant, or of bore.
    features : tuple of str
    """

    cause: Literal["air", "sill", "lock"]
    why: str
    at: Vec
    value: float
    limit: float
    unit: str
    features: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class FillSequence:
    """Filling from the tank, step by step.

    Parameters
    ----------
    steps : tuple of FillStep
    inlet_covered_ml : float or None
        What goes in before the pump's inlet is covered, [mL]; None where it is not by the time the tank reads its
        level.
    dry_why : str
        Why the inlet may be dry when the tank reads full; empty where it is not.
    dry_at : (float, float, float) or None
        The place that is the cause, [mm].
    level_falls_mm : float or None
        How far the level would fall if channels, parts and hoses took all they can from one filling, [mm]; at most
        to the outlet.
    tops : int
        How often the tank is filled up after the first time.
    total_ml : float
        All that goes in, [mL].
    unknown : tuple of str
        Parts, hoses ("hoses") and a separate tank ("tank") whose volume the file does not give: they take nothing here.
    dry : DryInlet or None
        The same as `dry_why` and `dry_at`, with its numbers.
    run_ml : float or None
        What the pump may take out of the tank in one run, [mL]; None where that is not known.
    push_ml : float
        What the pump has to push on into the loop when the tank first reads its level, [mL].
    """

    steps: tuple[FillStep, ...]
    inlet_covered_ml: float | None
    dry_why: str
    dry_at: Vec | None
    level_falls_mm: float | None
    tops: int
    total_ml: float
    unknown: tuple[str, ...]
    dry: DryInlet | None = None
    run_ml: float | None = None
    push_ml: float = 0.0


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
class BleedStep:
    """One step of bleeding, in words of the bench.

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
        Air or coolant less than without it.
    built : bool
        Whether the panel has it already, because the file asks for it.
    """

    kind: Literal["bleed", "drain"]
    channel: str
    on: Face
    at: Vec
    thread: str
    clears_mm3: float
    built: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Filling:
    """All of it. `tilts` is None in a plan, which looks at the installed attitude only."""

    left: Left
    sequence: FillSequence | None = None
    carries: tuple[Carry, ...] = ()
    locked: tuple[LockedBore, ...] = ()
    bleed_order: tuple[BleedStep, ...] = ()
    proposals: tuple[PortProposal, ...] = ()
    tilts: TiltMap | None = None
