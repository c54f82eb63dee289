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


StepKind = Literal["inlet covered", "may run", "level reached", "run", "top up", "end"]


@dataclass(frozen=True, slots=True, eq=False)
class FillStep:
    """One step of filling: what is done, and how things stand after it.

    Parameters
    ----------
    kind : StepKind
        "inlet covered": coolant goes in until the whole mouth of the pump's inlet stands in it; "may run": until
        that and the tank's outlet, by half a bore, stand in coolant; "level reached": until the tank reads its level
        with the pump at rest; "run": the pump runs until the tank has fallen as far as it may; "top up": the tank is
        filled to its level again; "end": the loop is full. Left out are "inlet covered" where that is never so or the
        pump may run at once then, and "may run" and all from "run" on where the pump may not run.
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
    poured_range_ml, total_range_ml : (float, float) or None
        The same volumes over all ways of the hoses that the file does not tell, [mL]; None where they hardly differ.
    times_range : (int, int) or None
        Of `times`, likewise.
    to_mouth : bool
        Whether the tank is filled to its fill port's mouth only, which lies under its level.
    """

    kind: StepKind
    times: int
    poured_ml: float
    total_ml: float
    level_mm: float | None
    level: float | None
    loop_share: float
    wet: np.ndarray
    poured_range_ml: tuple[float, float] | None = None
    total_range_ml: tuple[float, float] | None = None
    times_range: tuple[int, int] | None = None
    to_mouth: bool = False


@dataclass(frozen=True, slots=True)
class DryInlet:
    """Why the pump may not run when the tank reads full.

    Parameters
    ----------
    cause : {"air", "sill", "lock", "bare", "low", "shut"}
        Air stays at the inlet or in the feed over it; the way to it rises over the coolant in the tank; air cannot come
        up through the feed because a bubble locks in it; the tank's outlet is bare; the inlet does not stand under the
        tank's outlet; the tank cannot be filled at all, for it has no fill port.
    why : str
        One clause, with its numbers.
    at : (float, float, float)
        [mm]
    value, limit : float
        In `unit`.
    unit : str
        "%" of the section that holds air; "mm" of height, or of bore; empty: none.
    features : tuple of str
    code : str
        Of the design rule that tells it.
    """

    cause: Literal["air", "sill", "lock", "bare", "low", "shut"]
    why: str
    at: Vec
    value: float
    limit: float
    unit: str
    features: tuple[str, ...]
    code: str = "feed.first"


@dataclass(frozen=True, slots=True, eq=False)
class FillSequence:
    """Filling from the tank, step by step.

    Hoses whose way the file does not tell are taken to run straight from mouth to mouth; the ranges are over all of
    them rising, all falling, and that, and are None where the values differ by a tenth at most or no way is left open.

    Parameters
    ----------
    steps : tuple of FillStep
        Empty where the tank cannot be filled.
    inlet_covered_ml : float or None
        What goes in before the whole mouth of the pump's inlet stands in coolant, [mL]; None where it does not by the
        time the tank reads its level, or may be dry then.
    may_run_ml : float or None
        What goes in before the pump may run, [mL]: its inlet, but for air that stays in less than half of it, and
        half a bore over the middle of the tank's outlet stand in coolant. None where it may not by the time the tank
        reads its level: `dry` says why.
    level_falls_mm : float or None
        How far the level would fall if channels, parts and hoses took all they can from one filling, [mm]; at most
        to the outlet. None where that is not known or the pump may not run.
    tops : int
        How often the tank is filled up after the first time.
    total_ml : float
        All that goes in, [mL]; up to the tank's level where the pump may not run.
    unknown : tuple of str
        Parts, hoses ("hoses") and a separate tank ("tank") whose volume the file does not give: they take nothing here.
    dry : DryInlet or None
        Why the pump may not run when the tank reads full; None where it may.
    run_ml : float or None
        What the pump may take out of the tank in one run, [mL]; None where that is not known or it may not run.
    push_ml : float
        What the pump has to push on into the loop when the tank first reads its level, [mL].
    whole_ml : float
        What the tank up to its level and all the rest hold once no air is left, [mL].
    covered_range_ml, may_run_range_ml, level_range_ml, push_range_ml : (float, float) or None
        Of `inlet_covered_ml`, `may_run_ml`, what is in when the tank first reads its level, and `push_ml`, [mL].
    tops_range : (int, int) or None
        Of `tops`.
    dry_hoses : {"rises", "falls"} or None
        Which way of the hoses that the file does not tell leaves the inlet dry, though it is not dry otherwise.
    dry_untold : DryInlet or None
        Why it is dry then.
    """

    steps: tuple[FillStep, ...]
    inlet_covered_ml: float | None
    may_run_ml: float | None
    level_falls_mm: float | None
    tops: int
    total_ml: float
    unknown: tuple[str, ...]
    dry: DryInlet | None = None
    run_ml: float | None = None
    push_ml: float = 0.0
    whole_ml: float = 0.0
    covered_range_ml: tuple[float, float] | None = None
    may_run_range_ml: tuple[float, float] | None = None
    level_range_ml: tuple[float, float] | None = None
    push_range_ml: tuple[float, float] | None = None
    tops_range: tuple[int, int] | None = None
    dry_hoses: Literal["rises", "falls"] | None = None
    dry_untold: DryInlet | None = None


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
