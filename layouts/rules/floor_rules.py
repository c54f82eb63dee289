"""Design rules of flat sheets: covers by a quick estimate, the body's floors under pressure and between both faces."""

from __future__ import annotations

import math

from geom.findings import Finding, Severity
from geom.frame import SAME_MM
from geom.standards import tables
from geom.units import show_number
from layouts.advice import Heating
from layouts.closing.spacing import round_up
from layouts.faces import floor_thickness, least_body
from layouts.file.offers import keep_readable
from layouts.file_changes import set_length
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.findings import make_finding
from layouts.strength.cover_limits import CRAZING, crazes
from layouts.strength.floors import Bulge, Floor, bulge_floor, hold_edges, list_cover_spans, list_floors
from layouts.strength.peaks import tell_load
from layouts.strength.working_pressure import hottest_coolant_c


def check_cover(panel: Panel, routed: Routed, heating: Heating) -> tuple[Finding, ...]:
    """Ask whether the covers stand the pressure over the widest wet spans (`cover.thick`).

    On a cord this is the plan's quick estimate, and never more than a caution: a plate that only rests on its cord.
    `make` calculates the real cover with its screws, and what is said here is then left out. How far it bows over
    the tank, `layouts.strength.posts` says.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    heating : Heating
    """
    cord = panel.make.closing == "cord"
    found = []
    for bulge in _worst_bulges(panel, _estimated(panel, routed), heating):
        severity = _stress_severity(panel, bulge)
        if severity is None:
            continue
        text, value, limit = _tell_stress(panel, bulge, severity)
        floor = bulge.floor
        thick = round_up(max(_thicken(panel, bulge), panel.rules.least_wall))
        cure = (
            f'set cover = "{thick:g} mm" in [make], or make the {floor.span.name.partition(" ")[0]} narrower'
        )
        found.append(
            make_finding(
                "cover.thick",
                "caution" if cord else severity,
                ("by a quick estimate " if cord else "")
                + f"{floor.sheet} {tell_span(floor.span.name)} {text}",
                f"{cure}; make calculates the real cover with its screws" if cord else cure,
                value,
                limit,
                "MPa",
                (*floor.span.at, floor.z),
                (floor.span.name,),
                keep_readable(panel, set_length(thick, "make", "cover")),
            )
        )
    return tuple(found)


def check_cover_wall(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether the covers are as thick as the least wall, which stands all over what is wet (`cover.thick`)."""
    cover, least = panel.make.cover, panel.rules.least_wall
    if panel.make.closing == "one-piece" or cover >= least - SAME_MM:
        return ()
    return (
        make_finding(
            "cover.thick",
            "fault",
            f"a cover of {cover:g} mm is under the least wall of {least:g} mm",
            f'set cover = "{least:g} mm" in [make] at least',
            cover,
            least,
            "mm",
            changes=keep_readable(panel, set_length(least, "make", "cover")),
        ),
    )


def _estimated(panel: Panel, routed: Routed) -> tuple[Floor, ...]:
    """Return the cover's spans that the estimate speaks of: not a tank with posts, which hold the cover down."""
    floors = list_cover_spans(panel, routed)
    if routed.tank.posts:
        return tuple(floor for floor in floors if floor.span.name != "tank")
    return floors


def check_layer_floor(panel: Panel) -> tuple[Finding, ...]:
    """Ask whether a wall stands between channels that cross in the body's two faces (`wall.floor`)."""
    if panel.channel.layers == 1:
        return ()
    depth, wall = panel.channel.depth, panel.rules.least_wall
    floor = floor_thickness(panel.make.body, depth)
    thicker = set_length(least_body(depth, wall), "make", "body")
    if floor >= wall - SAME_MM:
        return ()
    return (
        make_finding(
            "wall.floor",
            "fault",
            f"channels {depth:g} mm deep in both faces leave {floor:.3g} mm of a body of {panel.make.body:g} mm "
            f"where they cross, less than the {wall:g} mm asked for",
            f'set body = "{least_body(depth, wall):g} mm" or more in [make], or '
            f'depth = "{max(0.0, (panel.make.body - wall) / 2):g} mm" or less in [channel]',
            floor,
            wall,
            "mm",
            changes=keep_readable(panel, thicker),
        ),
    )


def check_floors(panel: Panel, routed: Routed, heating: Heating) -> tuple[Finding, ...]:
    """Ask whether the body's sheets over tank and channels stand the pressure (`floor.thick`), sheet by sheet.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    heating : Heating
    """
    found = []
    for bulge in _worst_bulges(panel, list_floors(panel, routed), heating):
        severity = _stress_severity(panel, bulge)
        if severity is None:
            continue
        text, value, limit = _tell_stress(panel, bulge, severity)
        floor = bulge.floor
        # In one piece what is wet lies in the middle: both sheets grow.
        sheets = 2 if panel.make.closing == "one-piece" else 1
        thick = round_up(panel.make.body + sheets * (_thicken(panel, bulge) - floor.thickness))
        shallow = "the tank" if floor.span.name == "tank" else "the channels"
        found.append(
            make_finding(
                "floor.thick",
                severity,
                f"{floor.sheet} {tell_span(floor.span.name)} {text}",
                f'set body = "{thick:g} mm" in [make], or make {shallow} shallower or narrower',
                value,
                limit,
                "MPa",
                (*floor.span.at, floor.z),
                (floor.span.name,),
                keep_readable(panel, set_length(thick, "make", "body")),
            )
        )
    return tuple(found)


def _worst_bulges(panel: Panel, floors: tuple[Floor, ...], heating: Heating) -> tuple[Bulge, ...]:
    """Return of each sheet, over tank and over channels apart, the bulge that comes nearest to its limit."""
    hottest = hottest_coolant_c(panel, heating)
    worst: dict[tuple[str, bool], tuple[float, Bulge]] = {}
    for floor in floors:
        for bulge in bulge_floor(panel, floor, hottest):
            near = bulge.share / _stress_share(panel, bulge)
            key = (floor.sheet, floor.span.name == "tank")
            if key not in worst or near > worst[key][0]:
                worst[key] = (near, bulge)
    return tuple(bulge for _, bulge in worst.values())


def _stress_share(panel: Panel, bulge: Bulge) -> float:
    """Return the share of the allowable stress from which a bulge is a caution, [-].

    There are no screws where it is stressed most, so that only a coolant which attacks the plastic asks for less.
    """
    material = tables.material(bulge.floor.material)
    return CRAZING if bulge.lasting and crazes(material, panel.coolant.fluid) else 1.0


def _stress_severity(panel: Panel, bulge: Bulge) -> Severity | None:
    if bulge.share > 1.0:
        return "fault"
    return "caution" if bulge.share > _stress_share(panel, bulge) else None


def _tell_stress(panel: Panel, bulge: Bulge, severity: Severity) -> tuple[str, float, float]:
    """Return what is said of a bulge's stress, the stress and its limit, [MPa]."""
    low, high = sorted((hold_edges(bulge)[1], bulge.stress_mpa))
    limit = bulge.allowable_mpa * (1.0 if severity == "fault" else _stress_share(panel, bulge))
    lasts = "for years" if bulge.lasting else "for the time of a test"
    stands = f"what {bulge.floor.material} stands {lasts}"
    if severity != "fault":
        stands = f"half of {stands}, for {panel.coolant.fluid} attacks it"
    when = tell_load(bulge.lasting, bulge.pressure_pa, bulge.temperature_c)
    text = (
        f"carries {show_number(low, 2)} to {show_number(high, 2)} MPa {when}, by how firmly its edges "
        f"hold it, more than {limit:.3g} MPa, {stands}"
    )
    return text, bulge.stress_mpa, limit


def _thicken(panel: Panel, bulge: Bulge) -> float:
    """Return the thickness at which a sheet is under all limits, [mm]: its stress goes with the inverse square."""
    return bulge.floor.thickness * math.sqrt(bulge.share / _stress_share(panel, bulge))


def tell_span(name: str) -> str:
    """Return a span's name in a sentence: "the tank", "channel drain"."""
    return "the tank" if name == "tank" else name
