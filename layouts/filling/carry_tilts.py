"""Tilts with which a piece that falls along its flow rises, so that air goes through it by itself."""

from __future__ import annotations

from layouts.filling.moving_air import LEVEL_SINE, Piece, list_falls, sine_down
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Carry, Tilt, TiltMap
from layouts.panel import Panel
from layouts.plan import Routed

TILT_STEP_DEG, MOST_TILT_DEG = 7.5, 45.0
"""Tilts that are tried, [deg]: as far apart as the eye tells, and as far as a panel can be held."""


def find_rising_tilt(panel: Panel, routed: Routed, carry: Carry, tilts: TiltMap | None = None) -> Tilt | None:
    """Return the least tilt to one side with which a fall rises along its flow.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    carry : Carry
        Of this layout.
    tilts : TiltMap or None
        Where it is known, only tilts with which the tank keeps its outlet covered.

    Returns
    -------
    Tilt or None
        None where none of up to 45 degrees does, as with every channel that falls straight down.
    """
    fall = _find_fall(panel, routed, carry)
    for step in range(1, round(MOST_TILT_DEG / TILT_STEP_DEG) + 1):
        by = step * TILT_STEP_DEG
        for tilt in (Tilt(by, 0.0), Tilt(-by, 0.0), Tilt(0.0, by), Tilt(0.0, -by)):
            up = tilted_up(panel.up, tilt)
            if fall and all(sine_down(up, piece) < -LEVEL_SINE for piece in fall) and _is_kept(tilts, tilt):
                return tilt
    return None


def _find_fall(panel: Panel, routed: Routed, carry: Carry) -> tuple[Piece, ...]:
    """Return the pieces of a fall, those that lie level left out."""
    channel = routed.channel(carry.channel)
    leg = next(leg for leg in channel.legs if leg.name == carry.leg)
    for forward in (True, False):
        for fall in list_falls(panel, channel, leg, forward):
            if (fall[0].start[:2], fall[-1].end[:2]) == (carry.top, carry.foot):
                return tuple(piece for piece in fall if sine_down(panel.up, piece) > LEVEL_SINE)
    return ()


def _is_kept(tilts: TiltMap | None, tilt: Tilt) -> bool:
    """Return whether the tank keeps its outlet covered, at the nearest tilt that was looked at and is no less."""
    if tilts is None:
        return True

    def place(degrees: float) -> int:
        further = [
            k
            for k, each in enumerate(tilts.degrees)
            if abs(each) >= abs(degrees) and (each * degrees > 0 or degrees == 0)
        ]
        return min(further, key=lambda k: abs(tilts.degrees[k] - degrees), default=0)

    return bool(tilts.tank_stays[place(tilt.front), place(tilt.right)])
