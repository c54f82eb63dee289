"""The job in a sentence, from the panel alone: what is joined in which order, and how it is made."""

from __future__ import annotations

from exports.wording.figures import show_mm
from geom.words import join_names
from layouts.faces import joints_of
from layouts.panel import Panel, Step

TANK, PUMP = "tank", "pump"


def tell_job(panel: Panel) -> str:
    """Return what a panel joins and how it is made, in two sentences.

    Parameters
    ----------
    panel : Panel
    """
    return f"{_tell_loop(panel)} {_tell_making(panel)}"


def _tell_loop(panel: Panel) -> str:
    steps = panel.loop[1:] if panel.loop and panel.loop[0] == TANK else panel.loop
    steps = steps[:-1] if steps and steps[-1] == TANK else steps
    tank = "a tank cut into the plate" if panel.tank.kind == "pocket" else "a tank of its own"
    joined = ", ".join(_tell_step(panel, step, in_chain=True) for step in steps)
    return f"Coolant goes from {tank} through {joined} and back into the tank."


def _tell_step(panel: Panel, step: Step, in_chain: bool) -> str:
    if isinstance(step, str):
        return _tell_pump(panel) if step == PUMP else step
    told = [_tell_step(panel, one, not in_chain) for one in step]
    if in_chain:
        return f"{join_names(told)} in parallel"
    return f"({' then '.join(told)})"


def _tell_pump(panel: Panel) -> str:
    named = {choice.name for choice in panel.pump.choices}
    return f'the pump "{panel.pump.used}"' if len(named) > 1 and panel.pump.used else "the pump"


def _tell_making(panel: Panel) -> str:
    make = panel.make
    size = f"{show_mm(panel.width)} × {show_mm(panel.height)} × {show_mm(make.body)} mm"
    covers = len(joints_of(panel))
    made = f"{size} of {make.material}, {make.method}"
    if not covers:
        return f"The panel is {made} in one piece."
    sheet = "" if make.cover_row == make.material else f" of {make.cover_row}"
    cover = f"{'a cover' if covers == 1 else 'two covers'}{sheet} {show_mm(make.cover)} mm thick"
    if make.closing == "bonded":
        return f"The body is {made}, with {cover} bonded on."
    holds = f"screws {make.screw}" + (" in inserts" if make.inserts else "")
    return f"The body is {made}, closed by {cover} with {holds} on a cord of {show_mm(make.cord)} mm."
