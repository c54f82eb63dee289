"""What is told of the fill sequence and its steps."""

from __future__ import annotations

import math

import numpy as np

from exports.wording.filling_words import show_ml, show_ml_range
from layouts.filling.hose_ways import show_ends, tell_not_before
from layouts.filling.sequence_values import FillSequence, FillStep, StepKind

STEPS: dict[StepKind, str] = {
    "inlet covered": "pour until the pump's inlet is covered",
    "may run": "pour until the pump may run: the tank's outlet is covered too",
    "level reached": "fill the tank to its level, the pump at rest",
    "run": "run the pump until the tank's outlet is nearly bare",
    "top up": "fill the tank to its level again",
    "end": "the loop is full",
}


LAST_RUN = "run the pump until the loop is full"
"""Where the tank holds enough for it."""


FULL = 1.0 - 1e-6
"""Share of the loop from which on it is full."""


TO_MOUTH: dict[StepKind, str] = {
    "level reached": "fill the tank to its fill port's mouth, the pump at rest",
    "top up": "fill the tank to its fill port's mouth again",
}
"""Where that lies under its level."""


REACHED: dict[StepKind, str] = {
    "inlet covered": "the pump's inlet is covered",
    "may run": "the pump may run",
    "level reached": "the tank is filled to its level",
    "run": "the pump runs",
    "top up": "the tank is filled up again",
    "end": "the loop is full",
}
"""The same in few words."""


def list_steps(sequence: FillSequence) -> tuple[FillStep, ...]:
    """Return the steps that are told one by one: without the end, where the last step before it fills the loop."""
    if not sequence.steps:
        return ()
    *steps, last = sequence.steps
    if last.kind == "end" and steps and last.poured_ml <= 0.0 and np.array_equal(last.wet, steps[-1].wet):
        return tuple(steps)
    return sequence.steps


def tell_step(step: FillStep, last: bool = False) -> str:
    """Return what is done in a step; of runs and top-ups that are done in turn, which of them is told.

    Parameters
    ----------
    step : FillStep
    last : bool
        Whether no other follows: then whether the loop is full is told too.
    """
    full = step.kind == "run" and step.loop_share > FULL
    done = LAST_RUN if full else (TO_MOUTH if step.to_mouth else STEPS)[step.kind]
    return done + _tell_safe_end(step) + _tell_turn(step) + _tell_end(step, last)


def tell_reached(step: FillStep, last: bool = False) -> str:
    """Return the same in few words."""
    if last and step.kind == "top up" and step.loop_share > FULL:
        return REACHED["end"] + _tell_turn(step)
    first = step.to_mouth and step.kind == "level reached"
    reached = "the tank is filled to its fill port" if first else REACHED[step.kind]
    return reached + _tell_safe_end(step) + _tell_turn(step) + _tell_end(step, last)


def _tell_safe_end(step: FillStep) -> str:
    """Return from when the pump may run for certain, where hoses leave that open; else nothing."""
    if step.kind != "may run" or step.total_range_ml is None:
        return ""
    return f", not before {math.ceil(step.total_range_ml[1])} mL"


def _tell_end(step: FillStep, last: bool) -> str:
    return ": the loop is full" if last and step.kind != "end" and step.loop_share > FULL else ""


def _tell_turn(step: FillStep) -> str:
    if step.times == 1 and step.times_range is None:
        return ""
    times = f"{step.times}" if step.times_range is None else show_ends(step.times_range)
    return f" ({'first' if step.kind == 'run' else 'last'} of {times} times)"


def tell_level(step: FillStep) -> str:
    """Return how full the tank is after a step: "80 %"; "-" where that is not known."""
    return "-" if step.level is None else f"{100.0 * step.level:.0f} %"


def tell_sequence(sequence: FillSequence) -> str:
    """Return how much goes in, with what air holds back, from when the pump may run, how often it is refilled.

    One sentence without its full stop. Where the pump may not run no more goes in than fills the tank to its level.
    """
    covered, runs, tops = sequence.inlet_covered_ml, sequence.may_run_ml, sequence.tops_range
    if not sequence.steps:
        return "the panel cannot be filled" + ("" if sequence.dry is None else f": {sequence.dry.why}")
    if runs is None:
        end = "fill port's mouth" if sequence.steps[-1].to_mouth else "tank's level"
        poured = show_ml_range(sequence.total_ml, sequence.level_range_ml)
        return f"{poured} goes in up to the {end}; the pump may not run then"
    inlet = "" if covered is None else show_ml_range(covered, sequence.covered_range_ml)
    said = [f"the pump's inlet is covered after {inlet}"] if inlet else []
    now, whole = show_ml(sequence.total_ml), show_ml(sequence.whole_ml)
    later = f" ({whole} with no air left)" if whole != now and sequence.whole_ml else ""
    ends = sequence.may_run_range_ml
    when = f"run from {show_ml(runs)} on" if ends is None else f"not run {tell_not_before(ends)}"
    said = [f"{now} goes in{later}", *said, f"the pump may {when}"]
    if tops is not None:
        how = "at most once" if tops[1] == 1 else f"{show_ends(tops)} times"
        said.append(f"the tank is filled up again {how}")
    elif sequence.tops:
        said.append(
            "the tank is filled up again " + ("once" if sequence.tops == 1 else f"{sequence.tops} times")
        )
    if any(step.to_mouth for step in sequence.steps):
        said.append("the tank takes coolant only up to its fill port's mouth")
    return ", ".join(said)


def tell_ranges(sequence: FillSequence) -> str:
    """Return how to pour where what goes in depends on hoses whose way the file does not tell; empty where not."""
    if sequence.may_run_ml is None or not (sequence.may_run_range_ml or sequence.level_range_ml):
        return ""
    return (
        "how much goes in depends on which way hoses leave, which the file does not tell: pour only until the tank "
        'reads its level; hose = "rises" or "falls" at the ports of parts narrows it'
    )


def tell_no_run(sequence: FillSequence) -> str:
    """Return why the pump may not run once the tank reads its level; empty where it may."""
    dry = sequence.dry
    if dry is None:
        return ""
    if dry.cause == "shut":
        return f"the panel cannot be filled: {dry.why}"
    if dry.code != "feed.first":
        return f"the pump may not run: {dry.why}"
    return f"the pump's inlet may be dry when the tank reads full: {dry.why}"
