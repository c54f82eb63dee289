"""What is known of the fill sequence: frozen values, its steps and why the pump's inlet may be dry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from geom.frame import Vec

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
