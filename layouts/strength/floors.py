"""Flat sheets over what is wet: the body's floors, both faces of one piece, covers; by closed forms.

Each wet span is taken as a rectangle: the tank's box, or a channel's width by its longest piece. A sheet that is one
with its walls lies between a plate whose edges are held and one whose edges only rest: the second is the safe side,
bows more and is stressed more (but for a square, whose held edges carry 7 % more).
"""

from __future__ import annotations

from dataclasses import dataclass

from geom.outline import Point
from geom.standards import tables
from layouts.bending.closed_form import clamped, simply_supported
from layouts.clearance import clearances_of, tank_z
from layouts.closing.wet_regions import layer_runs
from layouts.faces import front_face_z, joints_of, layer_z, layers_of
from layouts.legs import list_pieces, measure_leg
from layouts.panel import Panel
from layouts.plan import Channel, Layer, Routed
from layouts.strength.working_pressure import find_working_pressure


@dataclass(frozen=True, slots=True)
class WetSpan:
    """A wet rectangle in one layer: its sides and a place in it, [mm]; "tank" or "channel NAME"."""

    name: str
    layer: Layer
    sides: tuple[float, float]
    at: Point


@dataclass(frozen=True, slots=True)
class Floor:
    """A sheet over a wet span.

    Parameters
    ----------
    sheet : str
        "the body over", "the body behind", "the cover over", "the front cover over": followed by the span's name.
    span : WetSpan
    sides : (float, float)
        Of the rectangle that bends, [mm]: of the span, or grown to the middle of the cord round it.
    thickness : float
        [mm]
    material : str
        Name of its row in the materials table.
    z : float
        Of its outer face, [mm].
    """

    sheet: str
    span: WetSpan
    sides: tuple[float, float]
    thickness: float
    material: str
    z: float


@dataclass(frozen=True, slots=True)
class Bulge:
    """A floor under one pressure, its edges only resting.

    Parameters
    ----------
    floor : Floor
    lasting : bool
        Whether the pressure lasts for years, as in use, or minutes, as at the test.
    pressure_pa, temperature_c : float
        [Pa], [°C].
    bow_mm, stress_mpa : float
        In its middle, [mm], [MPa].
    allowable_mpa : float
        [MPa]
    """

    floor: Floor
    lasting: bool
    pressure_pa: float
    temperature_c: float
    bow_mm: float
    stress_mpa: float
    allowable_mpa: float

    @property
    def share(self) -> float:
        """Stress over the allowable, [-]."""
        return self.stress_mpa / self.allowable_mpa


def list_floors(panel: Panel, routed: Routed) -> tuple[Floor, ...]:
    """Return the floors that are one with their walls: of the body, or both faces of one piece.

    With channels in both faces, what crosses over a channel is filled with the same coolant and adds no load.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of Floor
        Span by span, lengths in [mm].
    """
    make = panel.make
    floors = []
    for span in list_spans(panel, routed):
        low, high = tank_z(panel) if span.name == "tank" else layer_z(panel, span.layer)
        over = Floor("the body over", span, span.sides, make.body - high, make.material, make.body)
        behind = Floor("the body behind", span, span.sides, low, make.material, 0.0)
        if make.closing == "one-piece":
            floors += [over, behind]
        else:
            floors.append(behind if span.layer == "front" else over)
    return tuple(floors)


def list_cover_spans(panel: Panel, routed: Routed) -> tuple[Floor, ...]:
    """Return the covers over what is wet; under a cord, coolant reaches to its middle.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of Floor
        Span by span, lengths in [mm]; empty for one piece.
    """
    gaps, make = clearances_of(panel), panel.make
    grow = 2 * (gaps.land + gaps.groove_width / 2) if make.closing == "cord" else 0.0
    floors = []
    for span in list_spans(panel, routed):
        if span.layer not in joints_of(panel):
            continue
        name, z = ("the cover over", -make.cover)
        if span.layer == "front":
            name, z = ("the front cover over", front_face_z(panel))
        sides = (span.sides[0] + grow, span.sides[1] + grow)
        floors.append(Floor(name, span, sides, make.cover, make.cover_row, z))
    return tuple(floors)


def list_spans(panel: Panel, routed: Routed) -> tuple[WetSpan, ...]:
    """Return the tank and every channel in each layer that it lies in.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of WetSpan
        The tank first, then the channels in flow order; lengths in [mm].
    """
    spans = []
    if routed.tank.box is not None:
        x0, y0, x1, y1 = routed.tank.box
        spans.append(WetSpan("tank", "back", (x1 - x0, y1 - y0), ((x0 + x1) / 2, (y0 + y1) / 2)))
    for channel in routed.channels:
        spans += [_span_channel(channel, layer) for layer in layers_of(panel) if layer_runs(channel, layer)]
    return tuple(spans)


def bulge_floor(panel: Panel, floor: Floor, hottest_c: float) -> tuple[Bulge, Bulge]:
    """Return how a floor bulges, in use and at the test.

    Parameters
    ----------
    panel : Panel
    floor : Floor
    hottest_c : float
        Warmest coolant, [°C].

    Returns
    -------
    (Bulge, Bulge)
        At the working pressure for years, and at the test pressure for minutes.

    Source
    ------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells: `layouts.bending.closed_form`.
    """
    material = tables.material(floor.material)
    bulges = []
    for lasting, pressure_pa in (
        (True, find_working_pressure(panel).pressure_pa),
        (False, panel.rules.test_pressure_pa),
    ):
        bow, stress = simply_supported(pressure_pa, *_plate_of(floor, hottest_c, lasting))
        allowable = material.allowable_at(hottest_c, lasting)
        bulges.append(Bulge(floor, lasting, pressure_pa, hottest_c, bow, stress, allowable))
    return bulges[0], bulges[1]


def hold_edges(bulge: Bulge) -> tuple[float, float]:
    """Return how a floor would bulge if its edges were held.

    Parameters
    ----------
    bulge : Bulge

    Returns
    -------
    (float, float)
        Its bow in the middle, [mm], and its greatest stress, at a long edge, [MPa].

    Source
    ------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells: `layouts.bending.closed_form`.
    """
    return clamped(bulge.pressure_pa, *_plate_of(bulge.floor, bulge.temperature_c, bulge.lasting))


def _plate_of(floor: Floor, hottest_c: float, lasting: bool) -> tuple[float, float, float, float, float]:
    """Return a floor's sides and thickness, [mm], its modulus, [MPa], and Poisson's ratio."""
    material = tables.material(floor.material)
    return (*floor.sides, floor.thickness, material.young_at(hottest_c, lasting), material.poisson)


def _span_channel(channel: Channel, layer: Layer) -> WetSpan:
    """Return a channel's width by its longest piece in a layer."""
    pieces = [points for leg in channel.legs for lying, points in list_pieces(leg) if lying == layer]
    lengths = [measure_leg(points, channel.bend_radius)[1] for points in pieces]
    longest = max(lengths)
    at = pieces[lengths.index(longest)][0]
    return WetSpan(f"channel {channel.name}", layer, (channel.width, max(longest, channel.width)), at)
