"""Loops of parts with heats and capacities, at work, for what follows heat round them. All numbers are invented."""

from __future__ import annotations

from dataclasses import replace

from layouts.advice import Heating
from layouts.flow import size_flow
from layouts.heat import follow_heat
from layouts.panel import CoolantChoice, Panel, Part, Step
from layouts.plan import Flowing, LoopStep, PartFlow
from tests.layouts.sample_routed import L_MIN, sample_panel, sample_routed

AIR_C = 22.0
FLOW = 3 * L_MIN
BLANK = size_flow(sample_panel(), sample_routed())
"""What the loops below do not say of their flow."""


def loop_of(parts: dict[str, tuple[float, float]], *stages: Step, ambient: float | None = AIR_C) -> Panel:
    """Return a panel whose parts have these heats [W] and capacities [W/K]; 0 W/K is none."""
    panel = sample_panel()
    port = panel.parts[0].inlet
    return replace(
        panel,
        coolant=CoolantChoice("water", 0.0, 35.0, ambient),
        parts=tuple(
            Part(name, heat, ((FLOW, 1e4),), port, port, 1, capacity=((FLOW, taken),) if taken else ())
            for name, (heat, taken) in parts.items()
        ),
        loop=("tank", "pump", *stages, "tank"),
    )


def flow_of(steps: list[tuple[str, str, str, float]], flow: float = FLOW, pump_w: float = 0.0) -> Flowing:
    """Return the loop at work: the pump, then parts (name, start, end, flow) between nodes."""
    whole = [("pump", "tank", "0", flow), *steps]
    return replace(
        BLANK,
        flow_m3_s=flow,
        loop_drop_pa=pump_w / flow,
        parts=tuple(PartFlow(name, through, 0.0, 0.0) for name, _, _, through in steps),
        steps=tuple(
            LoopStep(name, "pump" if name == "pump" else "part", start, end, 0.0, 0.0, through, 0.0)
            for name, start, end, through in whole
        ),
    )


def follow_series(panel: Panel, flow: float = FLOW, pump_w: float = 0.0) -> Heating:
    """Return the heat of a loop whose parts all stand in series."""
    names = [stage for stage in panel.loop[2:-1] if isinstance(stage, str)]
    nodes = [*map(str, range(len(names))), "tank"]
    steps = [(name, a, b, flow) for name, a, b in zip(names, nodes, nodes[1:], strict=False)]
    return follow_heat(panel, flow_of(steps, flow, pump_w))
