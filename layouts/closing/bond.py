"""A bonded joint under pressure and while it is made: pull on the bond, squeezed-out adhesive, clamping force."""

from __future__ import annotations

import math

from layouts.closing.clamps import clamp_reach, place_clamps
from layouts.closing.lands import land_beside, measure_land, shape_joint
from layouts.closing.wet_regions import joint_discs, layer_runs
from layouts.faces import joints_of
from layouts.panel import Panel
from layouts.plan import BondedLands, Layer, Routed

STRENGTH_MPA = 2.77
"""Tensile strength of acrylic sheets bonded by a solvent, [MPa]: the best of those measured by Tsao, Chang and Chien,
Micromachines 13 (2022) 1131. Cements made for acrylic and structural adhesives hold more."""

SHORT_FACTOR = 1.5 * 1.5
"""For a test: uncertain adhesive, uncertain thickness. Partial factors for adhesive joints as below."""

LASTING_FACTOR = SHORT_FACTOR * 1.5 * 2.0
"""For years in use: also lasting load and wet surroundings.

Partial factors of the Adhesives Design Toolkit (National Physical Laboratory), durability design, table 2: 1.5 for the
properties, 1.5 for the thickness, 1.5 for lasting load, 2.0 for the surroundings."""

FILM, BOND_LINE = 0.2, 0.1
"""Adhesive as laid and as pressed, [mm]: within the 0.05 to 0.2 mm that B. Goss, Practical Guide to Adhesive Bonding of
Small Engineering Plastic and Rubber Parts, gives for the gap."""

RELIEF = 0.5
"""Leg of a 45-degree relief along a wet edge that is cut without trouble, [mm]; common practice, no source."""

PLASTIC_MPA, METAL_MPA = (0.02, 0.05), (0.05, 0.2)
"""Pressure on the lands while the bond sets, [MPa]; acrylic sheet is cemented "lightly clamped" at most
(fabrication guides for acrylic sheet); the figures: common practice, no source."""


def bond_lands(panel: Panel, routed: Routed) -> tuple[BondedLands, ...]:
    """Return the lands of each joint with their clamps; none where the panel is not bonded.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of BondedLands
    """
    if panel.make.closing != "bonded":
        return ()
    return tuple(_bond_joint(panel, routed, layer) for layer in joints_of(panel))


def _bond_joint(panel: Panel, routed: Routed, layer: Layer) -> BondedLands:
    shapes = shape_joint(panel, routed, layer)
    least = measure_land(shapes)
    pressing = place_clamps(panel, routed, shapes)
    wet = shapes.wet_shape
    spans = [
        (f"channel {channel.name}", channel.width)
        for channel in routed.channels
        if layer_runs(channel, layer)
    ]
    box = routed.tank.box
    if box is not None and layer == "back":
        spans.append(("tank", min(box[2] - box[0], box[3] - box[1])))
    # A joint that nothing but bores passes has rims too.
    for name, _, radius in joint_discs(panel, routed, layer):
        spans.append(("tank" if name == "tank" else f"channel {name}", 2 * radius))
    pulls = [(name, span, land_beside(shapes, name)) for name, span in spans]
    pulled, span, beside = max(
        pulls,
        key=lambda row: rim_pull(1.0, row[1], row[2].width, panel.make.cover),
        default=("", 0.0, least),
    )
    (ax, ay), (bx, by) = beside.ends
    return BondedLands(
        layer=layer,
        area_mm2=float(shapes.land.area),
        wet_mm2=float(wet.area),
        rim=float(wet.length),
        least_width=least.width,
        least_ends=least.ends,
        between=least.between,
        pulled=pulled,
        span=span,
        beside=beside.width,
        pulled_at=((ax + bx) / 2, (ay + by) / 2),
        reach=clamp_reach(panel.make.cover),
        clamps=pressing.clamps,
        weights=pressing.weights,
        pressed_mm2=pressing.pressed_mm2,
        unpressed_mm2=pressing.unpressed_mm2,
        unpressed_at=pressing.unpressed_at,
    )


def mean_pull(lands: BondedLands, pressure_pa: float) -> float:
    """Return the mean tensile stress of a bond: the opening force over the area of its lands, [MPa].

    Parameters
    ----------
    lands : BondedLands
    pressure_pa : float
        [Pa]
    """
    return pressure_pa * 1e-6 * lands.wet_mm2 / lands.area_mm2


def rim_pull(pressure_pa: float, span: float, land: float, cover: float) -> float:
    """Return the tensile stress of a bond at the rim of a wet span, [MPa].

    A strip of cover carries the pressure to both rims, where it goes on as a beam on the elastic half of its own
    thickness, free at the land's far end. Its slope is the same on both sides of the rim. The stiffness of the
    material cancels out. The body's give, left out, would ease it.

    Parameters
    ----------
    pressure_pa : float
        [Pa]
    span : float
        Width of the wet span, [mm].
    land : float
        Width of the land beside it, [mm].
    cover : float
        Thickness of the cover, [mm].

    Returns
    -------
    float

    Source
    ------
    Hetenyi, Beams on Elastic Foundation, 1946: finite beam with free ends, a force and a moment at one end;
    foundation of half the thickness, k = 2 E / t: Kanninen, International Journal of Fracture 9 (1973) 83; both
    recalled, not verified.
    """
    if span <= 0.0 or land <= 0.0:
        return 0.0 if span <= 0.0 else math.inf
    q = pressure_pa * 1e-6
    decay = 6**0.25 / cover
    # Beyond a length of 6 decay lengths the land is endless, and the exponentials would overflow.
    x = min(decay * land, 6.0)
    sinh2, sin2 = math.sinh(x) ** 2, math.sin(x) ** 2
    below = sinh2 - sin2
    force_sinks = (math.sinh(2 * x) - math.sin(2 * x)) / 2 / below
    crossed = (sinh2 + sin2) / below
    moment_turns = (math.sinh(2 * x) + math.sin(2 * x)) / 2 / below
    shear = q * span / 2
    moment = (q * span**3 / 24 - shear * crossed / (2 * decay**2)) / (span / 2 + moment_turns / decay)
    return 2 * decay * force_sinks * shear + 2 * decay**2 * crossed * moment


def squeezed_ml(lands: BondedLands) -> float:
    """Return the adhesive that leaves the lands when a film is pressed to the bond line, [mL]."""
    return lands.area_mm2 * (FILM - BOND_LINE) * 1e-3


def bead_section(lands: BondedLands) -> float:
    """Return the section of the bead along each wet edge if all that leaves the lands goes there evenly, [mm2]."""
    return lands.area_mm2 * (FILM - BOND_LINE) / lands.rim if lands.rim > 0 else 0.0


def channel_loss(lands: BondedLands, width: float, depth: float) -> float:
    """Return the share of a channel's section that a bead along both its edges takes, [-].

    Parameters
    ----------
    lands : BondedLands
    width, depth : float
        Of the channel, [mm].
    """
    return min(1.0, 2 * bead_section(lands) / (width * depth))


def relief_ml(lands: BondedLands) -> float:
    """Return what a 45-degree relief of `RELIEF` along all wet edges would hold, [mL]."""
    return RELIEF**2 / 2 * lands.rim * 1e-3


def clamp_pressure(kind: str) -> tuple[float, float]:
    """Return least and most pressure on the lands while the bond sets, by the kind of the cover's material, [MPa]."""
    return METAL_MPA if kind == "metal" else PLASTIC_MPA


def clamp_forces(lands: BondedLands, kind: str) -> tuple[tuple[float, float], ...]:
    """Return least and most force of each clamp, then of each weight, [N].

    Parameters
    ----------
    lands : BondedLands
    kind : {"plastic", "metal"}
        Of the cover's material.
    """
    low, high = clamp_pressure(kind)
    return tuple((low * area, high * area) for area in lands.pressed_mm2)
