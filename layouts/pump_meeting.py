"""Whether a pump meets its loop: the flows for which an answer is given."""

from __future__ import annotations

from geom.errors import LayoutError
from geom.units import l_min, show_number
from layouts.panel import Panel

LEAST_SHARE = 1e-3
"""A pump that pushes less than this share of its curve's greatest flow does not meet the loop."""

MOST_BEYOND = 1.2
"""A flow of more times the last of the pump's curve is not worked out; common practice, no source."""


def check_meeting(panel: Panel, flow_m3_s: float, head_m: float) -> None:
    """Refuse a pump that pushes next to nothing through the loop.

    Parameters
    ----------
    panel : Panel
    flow_m3_s, head_m : float
        Where the pump's curve meets the loop.

    Raises
    ------
    LayoutError
        A flow of less than `LEAST_SHARE` of the last of the pump's curve.
    """
    curve = panel.pump.curve
    most = curve[-1][0]
    if flow_m3_s >= LEAST_SHARE * most:
        return
    flow, reach = show_number(l_min(flow_m3_s), 2), show_number(l_min(most), 3)
    raise LayoutError(
        f"{panel.at_line('pump.curve')}: the pump does not meet the loop: at {flow} L/min the loop already "
        f"needs {head_m:.3g} m, the pump's shut-off head is {curve[0][1]:.3g} m and its curve reaches "
        f"{reach} L/min; choose a pump with more head, or parts and channels of less resistance"
    )


def check_curve_end(panel: Panel, flow_m3_s: float) -> None:
    """Refuse a pump whose curve ends long before it meets the loop.

    Parameters
    ----------
    panel : Panel
    flow_m3_s : float
        Where the pump's curve, continued, meets the loop.

    Raises
    ------
    LayoutError
        A flow of more than `MOST_BEYOND` times the last of the pump's curve.
    """
    last, head = panel.pump.curve[-1]
    if flow_m3_s <= MOST_BEYOND * last:
        return
    raise LayoutError(
        f"{panel.at_line('pump.curve')}: the pump curve ends at {show_number(l_min(last), 3)} L/min, "
        f"{show_number(head, 3)} m, before it meets the loop: there the loop asks for less head than the pump "
        f"still gives, and more than {100 * (MOST_BEYOND - 1):.0f} % past its end no flow is worked out; give "
        "the curve's points up to where its head falls away, check their units, or use a larger pump"
    )
