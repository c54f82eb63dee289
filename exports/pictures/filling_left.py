"""What stays, in the picture of filling: pockets of air or of coolant, numbered, and the ports that clear them."""

from __future__ import annotations

import numpy as np

from exports.pictures.filling_sheet import (
    FillSheet,
    draw_port,
    draw_pump,
    draw_view,
    pump_disc,
)
from exports.pictures.labels import LabelRequest, Rect, place_labels
from exports.pictures.plan_picture import draw_label
from exports.pictures.plan_symbols import INK, PAPER, SHEET, SMALL, SOFT, STILL, TEXT, WATER
from exports.pictures.svg import guess_width, number, text_at
from exports.wording.figures import wrap_words
from exports.wording.filling_words import (
    Kind,
    list_left,
    show_mm3,
    split_small,
    tell_beyond,
    tell_left,
    tell_pocket,
    tell_proposal,
    tell_small,
)
from geom.outline import Point
from geom.words import capitalise
from layouts.filling.left import find_air, find_coolant
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.values import Filling, Pocket, PortProposal
from layouts.panel import Panel
from layouts.plan import PlacedPort, Plan

MOST = 6
"""Pockets that have a number; what more there are is told together."""

TAG = 8.0
"""Radius of a pocket's number, picture units."""

LINE = 16.0
LETTER = 0.56
"""Height of a line under a view; width of its letters in the mean, in their size."""

SHORE_STEP = 4.0
"""Between the points that stand for what tags keep off, picture units."""

SIDEWAYS = 0.5
"""Part of the way out of an edge across the picture from which on its port's name stands beside the panel, [-]."""

NAME_GAP = 12.0
"""Between the panel's edge and the end of a name beside it, picture units."""

HEAD = 46.0
"""Over a view: its heading, and the names of ports in the upper edge."""


def draw_left(
    sheet: FillSheet,
    filling: Filling,
    scale: float,
    kind: Kind,
    wet: np.ndarray,
    room: float,
    beside: float,
) -> tuple[list[str], float]:
    """Draw what stays, with its list under it, from its upper left corner on; return its height too.

    Parameters
    ----------
    sheet : FillSheet
    filling : Filling
    scale : float
        Picture units a millimetre.
    kind : {"air", "coolant"}
        Air when filled, or coolant when drained.
    wet : numpy.ndarray
        (n,) bool: the voxels that hold coolant once the panel is filled, as far as it can be.
    room : float
        Width of the list, picture units.
    beside : float
        Room on the left of the panel for names of ports, picture units.
    """
    pockets, small = split_small(list_left(filling, kind)[0])
    shown = pockets[:MOST]
    stays = _stays(sheet, filling, kind) if pockets else np.zeros(sheet.voxels.count, bool)
    pattern = "url(#air-0)" if kind == "air" else "url(#stays-0)"
    masks = ((wet & ~stays, WATER, STILL),) if kind == "air" else ()
    heading = tell_left(filling, kind)
    proposals = [p for p in filling.proposals if (p.kind == "bleed") == (kind == "air")]
    proposals.sort(key=lambda one: one.built)
    out = [
        text_at(0.0, 12.0, capitalise(heading), 14.0, INK, 'font-weight="600"'),
        f'<g transform="translate({number(beside)} {number(HEAD)})">',
        *draw_view(sheet, scale, (*masks, (stays, pattern, pattern))),
        *draw_pump(sheet, scale, False),
        *_draw_names(sheet, scale, _named_ports(sheet.plan, kind, pockets), shown, proposals),
        "</g>",
    ]
    y = HEAD + sheet.height * scale + 40.0
    beyond = tell_beyond(filling) if kind == "air" else ""
    lines, height = _draw_list(sheet.plan.panel, kind, pockets, tell_small(small), beyond, proposals, room)
    return [*out, f'<g transform="translate(0 {number(y)})">', *lines, "</g>"], y + height


def room_beside(sheet: FillSheet, filling: Filling, kind: Kind) -> tuple[float, float]:
    """Return the room that names of ports need on the left and on the right of the panel, picture units.

    Parameters
    ----------
    sheet : FillSheet
    filling : Filling
    kind : {"air", "coolant"}
    """
    left = right = 0.0
    for port in _named_ports(sheet.plan, kind, split_small(list_left(filling, kind)[0])[0]):
        outward = draw_port(sheet, 1.0, port)[0].outward
        if outward is not None and abs(outward[0]) > SIDEWAYS:
            takes = guess_width(port.name, TEXT) + NAME_GAP
            left, right = (max(left, takes), right) if outward[0] < 0 else (left, max(right, takes))
    return left, right


def _stays(sheet: FillSheet, filling: Filling, kind: Kind) -> np.ndarray:
    """Return the voxels of the pockets that are told, (n,) bool."""
    plan, voxels = sheet.plan, sheet.voxels
    openings = find_openings(plan.panel, plan.routed, plan.detail.features, voxels)
    heights = voxels.elevations(plan.panel.up)
    if kind == "air":
        number = find_air(voxels, openings, heights, tank_voxels(voxels)).number
        loose = [k for k, pocket in enumerate(filling.left.air) if not pocket.shut]
        return (number >= 0) & ~np.isin(number, loose)
    return find_coolant(voxels, openings, heights).number >= 0


def _draw_names(
    sheet: FillSheet,
    scale: float,
    ports: tuple[PlacedPort, ...],
    pockets: tuple[Pocket, ...],
    proposals: list[PortProposal],
) -> list[str]:
    """Draw the numbers of pockets, the ports that matter, and those that are proposed."""
    plan = sheet.plan
    width, height = sheet.width * scale, sheet.height * scale
    out: list[str] = []
    wanted: list[tuple[LabelRequest, str]] = []
    taken: list[Rect] = []
    for port in ports:
        mark, drawn = draw_port(sheet, scale, port)
        out += drawn
        size = (guess_width(port.name, TEXT), TEXT * 1.2)
        wanted.append((LabelRequest(mark.at, size, mark.half + 4.0, mark.outward), port.name))
        (x, y), half = mark.at, mark.half
        taken.append((x - half, y - half, x + half, y + half))
    for k, proposal in enumerate(proposals, 1):
        if proposal.built:
            continue
        at = sheet.at((proposal.at[0], proposal.at[1]), scale)
        out.append(draw_proposal(at))
        taken.append((at[0] - 9, at[1] - 9, at[0] + 9, at[1] + 9))
        wanted.append((LabelRequest(at, (guess_width(_letter(k), TEXT), TEXT * 1.2), 11.0), _letter(k)))
    tags = [LabelRequest(sheet.at((p.at[0], p.at[1]), scale), (2 * TAG, 2 * TAG), 6.0) for p in pockets]
    (cx, cy), radius = pump_disc(plan)
    px, py = sheet.at((cx, cy), scale)
    ring = [
        (px + radius * scale * np.cos(a), py + radius * scale * np.sin(a)) for a in np.linspace(0, 6.28, 60)
    ]
    shore = _points_of_wet(sheet, scale)
    # Numbers first: their lines lead to small places, round which names find room.
    requests = (*tags, *(request for request, _ in wanted))
    placed = place_labels(requests, tuple(taken), (*shore, *ring), (2.0, 2.0, width - 2.0, height - 2.0))
    for (request, said), label in zip(wanted, placed[len(tags) :], strict=True):
        out += draw_label(request, (said,), PAPER if request.outward is not None else SHEET, label)
    for n, (request, label) in enumerate(zip(tags, placed[: len(tags)], strict=True), 1):
        x0, y0, x1, y1 = label.box
        middle = ((x0 + x1) / 2, (y0 + y1) / 2)
        out += _draw_leader(request.anchor, middle)
        out += draw_number(middle, str(n))
    return out


def _letter(k: int) -> str:
    return chr(ord("A") + k - 1)


def _named_ports(plan: Plan, kind: Kind, pockets: tuple[Pocket, ...]) -> tuple[PlacedPort, ...]:
    """Return the ports that are named: what fills the panel, what bleeds or drains it, and what is opened."""
    told = {pocket.reliefs[0].name for pocket in pockets[:MOST] if pocket.reliefs}
    role = "bleed" if kind == "air" else "drain"
    return tuple(
        port for port in plan.routed.ports if port.part == "tank" or port.role == role or port.name in told
    )


def _points_of_wet(sheet: FillSheet, scale: float) -> tuple[Point, ...]:
    """Return points all over what is wet, for names and numbers to keep off, in picture units."""
    columns = np.zeros(sheet.voxels.shape[:2], bool)
    columns[sheet.voxels.cells[:, 0], sheet.voxels.cells[:, 1]] = True
    cells = np.argwhere(columns)
    step = max(1, round(SHORE_STEP / (scale * sheet.voxels.spacing)))
    cells = cells[(cells % step == 0).all(axis=1)]
    places = np.asarray(sheet.voxels.origin[:2]) + (cells + 0.5) * sheet.voxels.spacing
    return tuple(sheet.at((x, y), scale) for x, y in places.tolist())


def _draw_leader(anchor: Point, end: Point) -> list[str]:
    line = f"M{number(anchor[0])} {number(anchor[1])}L{number(end[0])} {number(end[1])}"
    return [
        f'<path d="{line}" stroke="{SHEET}" stroke-width="3"/>',
        f'<path d="{line}" stroke="{INK}" stroke-width="1.1"/>',
        f'<circle cx="{number(anchor[0])}" cy="{number(anchor[1])}" r="2.4" fill="{INK}" stroke="{SHEET}" '
        'stroke-width="0.8"/>',
    ]


def draw_number(at: Point, said: str) -> list[str]:
    """Draw the number of a pocket."""
    x, y = at
    return [
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(TAG)}" fill="{INK}" stroke="{SHEET}" '
        'stroke-width="1.2"/>',
        text_at(x, y + 3.8, said, SMALL, SHEET, 'text-anchor="middle" font-weight="600"'),
    ]


def draw_proposal(at: Point) -> str:
    """Draw where a port is proposed: a dashed ring with a cross-hair."""
    x, y = at
    return (
        f'<circle cx="{number(x)}" cy="{number(y)}" r="8" fill="none" stroke="{INK}" stroke-width="1.8" '
        f'stroke-dasharray="3 2"/><path d="M{number(x - 4)} {number(y)}h8m-4 -4v8" stroke="{INK}" '
        'stroke-width="1.4"/>'
    )


def _draw_list(
    panel: Panel,
    kind: Kind,
    pockets: tuple[Pocket, ...],
    small: list[str],
    beyond: str,
    proposals: list[PortProposal],
    room: float,
) -> tuple[list[str], float]:
    """Draw the pockets with volume, place and holder, and the proposed ports; return the height too."""
    out: list[str] = []
    y = 8.0

    def write(lines: list[str], colour: str = INK) -> None:
        nonlocal y
        for line in lines:
            out.append(text_at(24.0, y + 4.0, line, TEXT, colour))
            y += LINE
        y += 4.0

    letters = int((room - 24.0) / (LETTER * TEXT))
    for n, pocket in enumerate(pockets[:MOST], 1):
        out += draw_number((TAG, y), str(n))
        write(wrap_words(tell_pocket(panel, kind, pocket), letters))
    if len(pockets) > MOST:
        rest = pockets[MOST:]
        write([f"and {len(rest)} more, {show_mm3(sum(p.volume_mm3 for p in rest))} together"], SOFT)
    for line in small:
        write([line], SOFT)
    if beyond:
        write(wrap_words(beyond, letters), SOFT)
    elif not pockets and not small:
        what = "air" if kind == "air" else "coolant"
        write([f"no {what} stays"], SOFT)
    for k, proposal in enumerate(proposals, 1):
        if not proposal.built:
            out.append(text_at(TAG, y + 4.0, _letter(k), TEXT, INK, 'text-anchor="middle"'))
        write(wrap_words(tell_proposal(proposal), letters))
    return out, y
