"""Design rules of the closing: the cord in its groove, the cover's screws and stiffness."""

from __future__ import annotations

import math

from geom.findings import Finding, Severity
from geom.frame import SAME_MM
from geom.outline import Point
from geom.standards import tables
from geom.units import show_number
from layouts.clearance import clearances_of, tank_z
from layouts.closing.cords import CORNER_SECTIONS
from layouts.closing.screws import MOST_DIAMETERS, MOST_THICKNESSES, SpacingLimit, cord_reach, limit_spacing
from layouts.closing.wet_regions import joint_discs, layer_runs
from layouts.faces import front_face_z, joint_z, joints_of, layer_z
from layouts.legs import find_corner, list_pieces, measure_leg
from layouts.panel import Panel
from layouts.plan import Layer, Routed, Sealed
from layouts.rules.findings import make_finding

LEAST_SQUEEZE, MOST_SQUEEZE = 0.15, 0.30
"""Whole percents in every source, and compared as such."""

MOST_FILL = 0.85

BOW_SHARE = 0.25
"""Share of the cord's squeeze that a bowing cover may take."""


SPACING_WORDS: dict[SpacingLimit, tuple[str, str]] = {
    "stiffness": ("the cover's stiffness allows", "a thicker or stiffer cover"),
    "diameters": (f"{MOST_DIAMETERS} screw diameters between two screws allow", "a larger screw"),
    "thicknesses": (f"{MOST_THICKNESSES} cover thicknesses between two screws allow", "a thicker cover"),
}
"""What sets the spacing of the cover's screws, and what then helps besides more room for screws."""


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


def squeeze_range(cord: tables.Cord) -> tuple[float, float]:
    """Return the least and greatest compression of a cord over its diameter, at the worst tolerances, [-]."""
    thin, thick = cord.section - cord.tolerance, cord.section + cord.tolerance
    deep = cord.groove_depth + cord.groove_depth_tolerance
    return 1 - deep / thin, 1 - cord.groove_depth / thick


def greatest_fill(cord: tables.Cord) -> float:
    """Return the area of the thickest cord over that of the smallest groove, [-]."""
    thick = cord.section + cord.tolerance
    return math.pi / 4 * thick**2 / (cord.groove_depth * cord.groove_width)


def check_groove_bends(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the cord can follow its groove (`seal.bend`): inside bends, round ends, tank and bores."""
    if panel.make.closing != "cord":
        return ()
    gaps = clearances_of(panel)
    turns: list[tuple[float, tuple[float, float, float], str, str]] = []
    for channel in routed.channels:
        name = f"channel {channel.name}"
        outside = channel.width / 2 + gaps.land
        for layer, points in (piece for leg in channel.legs for piece in list_pieces(leg)):
            corner = find_corner(points)
            if corner is not None:
                inside, at = channel.bend_radius - outside - gaps.groove_width, joint_z(panel, layer)
                turns.append((inside, (*corner, at), name, "inside the bends of"))
        first = channel.runs[0]
        turns.append((outside, (*first.points[0], joint_z(panel, first.layer)), name, "round the end of"))
    if routed.tank.box is not None:
        x0, y0, _, _ = routed.tank.box
        turns.append(
            (routed.tank.corner_radius + gaps.land, (x0, y0, 0.0), "tank", "round the corners of the")
        )
    if panel.channel.layers == 2:
        # A bore that passes a joint and opens beyond it has a cord of its own.
        for layer in joints_of(panel):
            turns += [
                (bore + gaps.land, (*at, joint_z(panel, layer)), f"channel {name}", "round a bore into")
                for name, at, bore in joint_discs(panel, routed, layer)
            ]
    radius, point, name, where = min(turns, key=lambda row: row[0])
    least = CORNER_SECTIONS * panel.make.cord
    if radius >= least - SAME_MM:
        return ()
    more = least - radius
    return (
        make_finding(
            "seal.bend",
            "fault" if radius < SAME_MM else "caution",
            f"{where} {name} the groove's inner radius is {radius:.3g} mm, under {CORNER_SECTIONS:g} cord "
            f"sections ({least:.3g} mm)",
            f"raise the bend radius by {more:.3g} mm, or use a thinner cord"
            if "bends" in where
            else f"round it by {more:.3g} mm more, or use a thinner cord",
            radius,
            least,
            "mm",
            point,
            (name,),
        ),
    )


def check_cover_screws(panel: Panel, sealed: Sealed) -> tuple[Finding, ...]:
    """Ask whether every stretch of cord is held down by a screw (`cover.screws`), cover by cover.

    Two screws at the allowed spacing leave no place between them further than half of it from one.
    """
    if panel.make.closing != "cord":
        return ()
    return tuple(finding for layer in joints_of(panel) for finding in _check_screws_of(panel, sealed, layer))


def _check_screws_of(panel: Panel, sealed: Sealed, layer: Layer) -> tuple[Finding, ...]:
    loops = tuple(loop for loop in sealed.loops if loop.layer == layer)
    if not loops:
        return ()
    screws = sealed.front_screws if layer == "front" else sealed.screws
    spacing, limit = limit_spacing(panel, layer)
    reach, place = cord_reach(loops, screws)
    if reach <= spacing / 2 + SAME_MM:
        return ()
    bare = not screws
    allows, cure = SPACING_WORDS[limit]
    cover, cord = ("front cover", "cord under the front cover") if layer == "front" else ("cover", "cord")
    return (
        make_finding(
            "cover.screws",
            "fault" if bare else "caution",
            f"no place was left for a single {cover} screw"
            if bare
            else f"the {cord} at ({place[0]:.0f}, {place[1]:.0f}) mm is {reach:.3g} mm from its nearest "
            f"screw, more than the {spacing / 2:.3g} mm that {allows}",
            "leave more room for screws between channels, ports and edges, or use a smaller screw"
            if bare
            else f"leave more room for screws there, between channels and ports, or use {cure}",
            None if bare else reach,
            spacing / 2,
            "mm",
            (place[0], place[1], joint_z(panel, layer)),
        ),
    )


def check_cover(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Ask whether the plates over the widest wet span hold the test pressure (`cover.thick`)."""
    material = tables.material(panel.make.material)
    gaps = clearances_of(panel)
    if routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        sides, name = (x1 - x0, y1 - y0), "tank"
        middle, deep = ((x0 + x1) / 2, (y0 + y1) / 2), tank_z(panel)
    else:
        sides, name, middle = _widest_span(routed, "back")
        deep = layer_z(panel, "back")
    reach = gaps.land + gaps.groove_width / 2 if panel.make.closing == "cord" else 0.0
    plates = [("the body over the", sides, panel.make.body - deep[1], panel.make.body)]
    if panel.make.closing == "one-piece":
        plates.append(("the body behind the", sides, deep[0], 0.0))
    else:
        grown = (sides[0] + 2 * reach, sides[1] + 2 * reach)
        plates.append(("the cover over the", grown, panel.make.cover, -panel.make.cover))
    spans = [(*plate, name, middle) for plate in plates]
    if "front" in joints_of(panel) and any(layer_runs(channel, "front") for channel in routed.channels):
        sides, name, middle = _widest_span(routed, "front")
        grown = (sides[0] + 2 * reach, sides[1] + 2 * reach)
        spans.append(("the front cover over the", grown, panel.make.cover, front_face_z(panel), name, middle))
    bow_limit = None
    if panel.make.closing == "cord":
        cord = tables.cord(panel.make.cord)
        bow_limit = BOW_SHARE * (cord.section - cord.groove_depth)
    found = []
    for what, (a, b), thickness, z, name, middle in spans:
        bow, stress = bend_plate(panel.rules.test_pressure_pa, a, b, thickness, material)
        bows = bow_limit is not None and "cover" in what and bow > bow_limit
        where, features = (middle[0], middle[1], z), (name,)
        if stress > material.allowable_mpa / 2:
            severity: Severity = "fault" if stress > material.allowable_mpa else "caution"
            limit = material.allowable_mpa / (1 if severity == "fault" else 2)
            text = (
                f"{what} {name}, {thickness:g} mm of {material.name}, carries {show_number(stress, 2)} MPa at the test "
                f"pressure, more than {limit:.3g} MPa"
            )
            found.append(
                make_finding(
                    "cover.thick",
                    severity,
                    text,
                    "make it thicker, the tank narrower, or test at less pressure",
                    stress,
                    limit,
                    "MPa",
                    where,
                    features,
                )
            )
        elif bows and bow_limit is not None:
            found.append(
                make_finding(
                    "cover.thick",
                    "caution",
                    f"{what} {name} bows by {bow:.2g} mm at the test pressure, more than a quarter of the "
                    f"cord's squeeze ({bow_limit:.2g} mm)",
                    "use a thicker cover, a narrower tank, or a rib with a screw across it",
                    bow,
                    bow_limit,
                    "mm",
                    where,
                    features,
                )
            )
    return tuple(found)


def _widest_span(routed: Routed, layer: Layer) -> tuple[tuple[float, float], str, Point]:
    """Return width and length of the widest channel of a layer, its name, and a place in it, [mm]."""
    widest = max(
        (channel for channel in routed.channels if layer_runs(channel, layer)),
        key=lambda channel: channel.width,
    )
    pieces = [points for leg in widest.legs for lying, points in list_pieces(leg) if lying == layer]
    length = max(measure_leg(points, widest.bend_radius)[1] for points in pieces)
    return (widest.width, max(length, widest.width)), f"channel {widest.name}", pieces[0][0]


def bend_plate(
    pressure_pa: float, side: float, other: float, thickness: float, material: tables.Material
) -> tuple[float, float]:
    """Return how far a simply supported plate bows in its middle, and its stress there.

    Parameters
    ----------
    pressure_pa : float
        On one face, [Pa].
    side, other, thickness : float
        [mm]
    material : Material

    Returns
    -------
    bow, stress : float
        [mm], [MPa].

    Source
    ------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, Navier's solution, chapter 5.
    """
    a, b = sorted((side, other))
    nu = material.poisson
    stiffness = material.young_mpa * thickness**3 / (12 * (1 - nu**2))
    q = pressure_pa * 1e-6
    bow = across = 0.0
    for m in range(1, 60, 2):
        for n in range(1, 60, 2):
            sign = -1.0 if (m + n) // 2 % 2 == 0 else 1.0
            p, r = (m / a) ** 2, (n / b) ** 2
            term = sign / (m * n * (p + r) ** 2)
            bow += term
            across += term * (p + nu * r)
    bow *= 16 * q / (math.pi**6 * stiffness)
    moment = 16 * q / math.pi**4 * across
    return bow, 6 * moment / thickness**2
