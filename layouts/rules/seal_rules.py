"""Design rules of the cords in their grooves."""

from __future__ import annotations

from collections import Counter

import shapely

from geom.features import Detail
from geom.findings import Finding, Severity
from geom.frame import SAME_MM
from geom.outline import track_polygon
from geom.standards import tables
from layouts.closing.cords import CORNER_SECTIONS, PREFERRED_SECTIONS
from layouts.closing.gland import (
    LEAST_SQUEEZE,
    MOST_FILL,
    MOST_SQUEEZE,
    greatest_fill,
    squeeze_range,
    tightest_turn,
)
from layouts.closing.shared_grooves import list_sharers
from layouts.cures import Cure, join_cures, use_cord
from layouts.detail import cast_shadow
from layouts.faces import joint_z
from layouts.file.offers import offer_changes
from layouts.panel import Panel
from layouts.plan import CordLoop, Sealed
from layouts.rules.findings import make_finding

KINK_SECTIONS = 1.0
"""Inner radius under which a cord kinks, in its sections; common practice, no source."""

CROSS_MM = 0.1
"""Grooves are narrowed by this to each side before they are held against others: all outlines are coarse."""


def check_cord(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the cord is squeezed rightly and has room in its groove (`seal.squeeze`, `seal.fill`)."""
    if panel.make.closing != "cord":
        return ()
    cord = tables.cord(panel.make.cord)
    least, most = squeeze_range(cord)
    found = []
    if round(least, 2) < LEAST_SQUEEZE or round(most, 2) > MOST_SQUEEZE:
        low = LEAST_SQUEEZE - least > most - MOST_SQUEEZE
        found.append(
            make_finding(
                "seal.squeeze",
                "caution",
                f"at the worst tolerances a {cord.section:g} mm cord is squeezed by {least * 100:.1f} to "
                f"{most * 100:.1f} %, outside {LEAST_SQUEEZE * 100:g} to {MOST_SQUEEZE * 100:g} %",
                "use a thicker cord, whose tolerance weighs less, or measure cord and groove",
                (least if low else most) * 100,
                (LEAST_SQUEEZE if low else MOST_SQUEEZE) * 100,
                "%",
            )
        )
    fill = greatest_fill(cord)
    if fill > MOST_FILL:
        found.append(
            make_finding(
                "seal.fill",
                "fault",
                f"at the worst tolerances a {cord.section:g} mm cord fills {fill * 100:.1f} % of its "
                f"groove, more than {MOST_FILL * 100:g} %",
                "use another cord of the table",
                fill * 100,
                MOST_FILL * 100,
                "%",
            )
        )
    return tuple(found)


def check_groove_bends(panel: Panel, sealed: Sealed) -> tuple[Finding, ...]:
    """Ask whether the cords can follow their grooves (`seal.bend`): the tightest turn of all."""
    turns = [(*turn, loop) for loop in sealed.loops if (turn := tightest_turn(loop)) is not None]
    if not turns:
        return ()
    radius, arc, loop = min(turns, key=lambda turn: turn[0])
    cord, (x, y) = panel.make.cord, arc.at(0.5)
    if radius >= PREFERRED_SECTIONS * cord - SAME_MM:
        return ()
    fine = radius >= CORNER_SECTIONS * cord - SAME_MM
    severity: Severity = "note" if fine else "caution" if radius >= KINK_SECTIONS * cord else "fault"
    least = (PREFERRED_SECTIONS if fine else CORNER_SECTIONS) * cord
    cures = _list_cures(radius, least, least / cord, arc.sweep > 0)
    return (
        make_finding(
            "seal.bend",
            severity,
            f'the cord in {loop.name}, round "{loop.region}", turns at ({x:.0f}, {y:.0f}) mm on an inner radius of '
            f"{radius:.3g} mm, {radius / cord:.2g} cord sections"
            + (
                f"; {PREFERRED_SECTIONS:g} are better"
                if fine
                else f", under {CORNER_SECTIONS:g} ({least:.3g} mm)"
            ),
            join_cures(cures),
            radius,
            least,
            "mm",
            (x, y, joint_z(panel, loop.layer)),
            (loop.name,),
            offer_changes(panel, *cures),
        ),
    )


def _list_cures(radius: float, least: float, sections: float, round_wet: bool) -> list[Cure]:
    """Return the cord that turns on a radius, and what makes the radius larger.

    Round what is wet the groove's inner wall is as far off as the land, whatever the cord; round what is dry a
    thinner cord leaves more.
    """
    fitting = [one for one in tables.cord_sections() if one * sections <= radius + SAME_MM]
    cures = [use_cord(fitting[-1])] if fitting else []
    if not round_wet:
        cures.append(Cure("leave longer straights or a larger bend radius there"))
    elif not fitting:
        cures.append(Cure(f"make what the groove goes round there {2 * (least - radius):.2g} mm wider"))
    return cures


def check_groove_crossings(panel: Panel, sealed: Sealed, detail: Detail) -> tuple[Finding, ...]:
    """Ask whether grooves keep off one another and off all else that is cut at their depth (`seal.cross`).

    What stands nearer than a wall but does not meet is left to the exact check of the walls.
    """
    grooves = {loop.name: loop for loop in sealed.loops}
    found = [finding for loop in sealed.loops for finding in _meets_itself(panel, loop)]
    cuts = [(feature, *cast_shadow(feature.shape)) for feature in detail.features]
    for feature, shadow, z0, z1 in cuts:
        if feature.name not in grooves:
            continue
        loop = grooves[feature.name]
        core = shadow.buffer(-CROSS_MM)
        for other, shade, low, high in cuts:
            if (other.name in grooves and not _comes_first(other.name, loop, grooves)) or other is feature:
                continue
            if min(z1, high) - max(z0, low) < SAME_MM or not core.intersects(shade):
                continue
            place = core.intersection(shade).representative_point()
            found.append(
                make_finding(
                    "seal.cross",
                    "fault",
                    f'{loop.name}, round "{loop.region}", runs into {other.name} at ({place.x:.0f}, {place.y:.0f}) mm',
                    "move them apart: leave more room between what the groove goes round and the other",
                    at_mm=(place.x, place.y, joint_z(panel, loop.layer)),
                    features=(loop.name, other.name),
                )
            )
    return tuple(found)


def check_shared_grooves(panel: Panel, sealed: Sealed) -> tuple[Finding, ...]:
    """Tell which regions share a groove, and how the open cords are laid (`seal.shared`)."""
    ended = [loop for loop in sealed.loops if not loop.closed]
    if not ended:
        return ()
    # An open cord may end in grooves of its own region alone.
    pairs = "; ".join(f'"{one}" and "{other}"' for one, other in list_sharers(sealed.loops)) or "; ".join(
        f'parts of "{region}"' for region in dict.fromkeys(loop.region for loop in ended)
    )
    cords = ", ".join(loop.name for loop in ended)
    return (
        make_finding(
            "seal.shared",
            "note",
            f"two grooves do not fit between {pairs}: one seals both there, and what passes its cord leaks from "
            "one into the other, unseen from outside",
            f"butt the cord in {cords} square against the side of the cord that its groove ends in, without "
            "stretching it, and bond the joint with the cord maker's adhesive; for a cord round each leave more room "
            "there",
            at_mm=(*ended[0].path[-1].end, joint_z(panel, ended[0].layer)),
            features=tuple(loop.name for loop in ended),
        ),
    )


def _meets_itself(panel: Panel, loop: CordLoop) -> tuple[Finding, ...]:
    track = track_polygon(loop.path, loop.closed, loop.groove_width)
    if track.is_valid:
        return ()
    # Cut where its walls cross, four ends lie in each crossing.
    pieces = shapely.get_parts(shapely.unary_union(track.boundary))
    ends = Counter(end for piece in pieces for end in (piece.coords[0], piece.coords[-1]))
    x, y = min((end for end, count in ends.items() if count > 2), default=loop.path[0].start)
    return (
        make_finding(
            "seal.cross",
            "fault",
            f'{loop.name}, round "{loop.region}", meets itself at ({x:.0f}, {y:.0f}) mm',
            "leave more room between the channels that it goes round there",
            at_mm=(x, y, joint_z(panel, loop.layer)),
            features=(loop.name,),
        ),
    )


def _comes_first(name: str, loop: CordLoop, grooves: dict[str, CordLoop]) -> bool:
    """Return whether a pair of grooves is told at this one, the later of both, and may not meet."""
    order = list(grooves)
    meant = name in loop.meets or loop.name in grooves[name].meets
    return order.index(name) < order.index(loop.name) and not meant
