"""Small drawings of a panel that is tilted to a side or to the front, to be read without a sign."""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np

from exports.pictures.plan_symbols import INK, SHEET, SHORE, SOFT, WATER
from exports.pictures.svg import number
from geom.frame import Vec, to_vec
from geom.outline import Point
from layouts.filling.tilts import tilted_up
from layouts.filling.values import Tilt
from layouts.panel import Panel

THICKER = 0.12
"""A panel is drawn at least so thick, as a share of its longest side."""


def draw_attitude(panel: Panel, tilt: Tilt, centre: Point, size: float) -> list[str]:
    """Draw a panel as it stands, tilted: from the front for a tilt to a side, else from its right side.

    Parameters
    ----------
    panel : Panel
    tilt : Tilt
        To one of both ways only; none is drawn from the front.
    centre : (float, float)
        Picture units.
    size : float
        Of what is seen of the panel, its longer side, picture units.
    """
    from_side = tilt.right == 0.0 and tilt.front != 0.0
    return _draw_box(panel, tilt, centre, size, from_side)


def draw_upright_side(panel: Panel, centre: Point, size: float) -> list[str]:
    """Draw a panel as it is installed, from its right side, with the eye of who looks at it from the front.

    Parameters
    ----------
    panel : Panel
    centre : (float, float)
        Picture units.
    size : float
        As in `draw_attitude`.
    """
    return _draw_box(panel, Tilt(0.0, 0.0), centre, size, True)


def _draw_box(panel: Panel, tilt: Tilt, centre: Point, size: float, from_side: bool) -> list[str]:
    """Draw the panel as a box by parallel projection: its far faces first, its front face in the coolant's colour."""
    up = np.array(tilted_up(panel.up, tilt))
    right, forward = _looks(panel.up, tilt)
    across = -np.array(forward) if from_side else np.array(right)
    # Seen from the panel's right side, what is forward lies on the left.
    thick = max(panel.make.body, THICKER * max(panel.width, panel.height))
    half = np.array([panel.width, panel.height, thick]) / 2
    level_right, level_forward = _looks(panel.up, Tilt(0.0, 0.0))
    seen = np.array([panel.up, level_forward if from_side else level_right])
    scale = size / float((2 * np.abs(seen) @ half).max())
    eye = np.array(right) if from_side else np.array(forward)
    faces = []
    for axis in range(3):
        for sign in (-1.0, 1.0):
            normal = np.zeros(3)
            normal[axis] = sign
            if normal @ eye < 1e-6:
                continue
            others = [k for k in range(3) if k != axis]
            corners = []
            for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
                corner = normal * half
                corner[others[0]], corner[others[1]] = a * half[others[0]], b * half[others[1]]
                corners.append(
                    (
                        centre[0] + float(corner @ across) * scale,
                        centre[1] - float(corner @ up) * scale,
                    )
                )
            front = axis == 2 and sign > 0
            faces.append((corners, WATER if front else SHEET))
    out = []
    for corners, fill in faces:
        data = "L".join(f"{number(x)} {number(y)}" for x, y in corners)
        out.append(
            f'<path d="M{data}Z" fill="{fill}" stroke="{INK}" stroke-width="1.1" stroke-linejoin="round"/>'
        )
    if from_side:
        # The front face is seen edge on: a thick line along it.
        ends = [
            (centre[0] + float(corner @ across) * scale, centre[1] - float(corner @ up) * scale)
            for corner in (np.array([a, b, 1.0]) * half for a in (-1.0, 1.0) for b in (-1.0, 1.0))
        ]
        (x0, y0), (x1, y1) = max(combinations(ends, 2), key=lambda pair: round(math.dist(*pair), 6))
        out.append(
            f'<path d="M{number(x0)} {number(y0)}L{number(x1)} {number(y1)}" stroke="{SHORE}" stroke-width="3.2"/>'
        )
    return out


def _looks(up: Vec, tilt: Tilt) -> tuple[Vec, Vec]:
    """Return what is to the right and what is forwards for who looks at the panel, in the frame of the tilted panel."""
    right = _minus(tilted_up(up, Tilt(90.0, 0.0)))
    forward = _minus(tilted_up(up, Tilt(0.0, 90.0)))
    a, b = math.radians(tilt.right), math.radians(tilt.front)
    # The panel turns, the one who looks at it stays: both directions turn with up.
    u, r, f = np.array(up), np.array(right), np.array(forward)
    turned_right = math.cos(a) * r + math.sin(a) * u
    level = math.cos(a) * u - math.sin(a) * r
    turned_forward = math.cos(b) * f + math.sin(b) * level
    return to_vec(turned_right), to_vec(turned_forward)


def _minus(v: Vec) -> Vec:
    return (-v[0], -v[1], -v[2])


def draw_eye(at: Point, to_right: bool) -> list[str]:
    """Draw the eye of who looks at the panel, and which way."""
    x, y = at
    s = 1.0 if to_right else -1.0
    lids = f"M{number(x - s * 8)} {number(y - 6)}l{number(s * 12)} 6l{number(-s * 12)} 6"
    return [
        f'<path d="{lids}" fill="none" stroke="{SOFT}" stroke-width="1.3"/>',
        f'<circle cx="{number(x - s * 2)}" cy="{number(y)}" r="2.6" fill="{INK}"/>',
    ]
