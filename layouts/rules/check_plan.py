"""Design rules that need no solid: each asks one question of the plan and returns findings.

What each code means stands in `layouts.rules.catalogue`.
"""

from __future__ import annotations

from geom.features import Detail
from geom.findings import Finding
from layouts.advice import Advised
from layouts.filling.values import Filling
from layouts.milling.work import Milled
from layouts.panel import Panel
from layouts.plan import Flowing, Routed, Sealed
from layouts.printing.printed import Printed
from layouts.rules.bond_rules import (
    check_bond_lands,
    check_bond_material,
    check_bond_pull,
    check_clamps,
    check_squeeze_out,
)
from layouts.rules.channel_rules import check_narrow
from layouts.rules.cutter_rules import check_cutter, check_milled_floors, check_radius, check_reach
from layouts.rules.drill_rules import check_drill_depth, check_drill_points, check_grazes, check_slopes
from layouts.rules.fastening_rules import check_fastening
from layouts.rules.feed_rules import (
    check_feed_bore,
    check_feed_column,
    check_feed_depth,
    check_feed_low,
    check_feed_tilt,
    check_inlet_head,
)
from layouts.rules.fill_rules import check_drain, check_fill, check_growth, note_volume
from layouts.rules.filling_rules import check_filling
from layouts.rules.floor_rules import check_cover, check_cover_wall, check_floors, check_layer_floor
from layouts.rules.flow_rules import check_part_curves, check_uneven, check_velocity
from layouts.rules.groove_walls import check_groove_walls
from layouts.rules.heat_rules import (
    check_capacities,
    check_coolant_level,
    check_heat_kept,
    check_order,
    check_rises,
)
from layouts.rules.insert_rules import check_inserts
from layouts.rules.material_rules import (
    check_material_coolant,
    check_material_heat,
    check_milled_wall,
    check_printable,
    check_screw_growth,
)
from layouts.rules.port_rules import (
    check_port_room,
    check_port_seats,
    check_pump_screws,
    check_seat_floor,
    check_threads,
    check_torque,
)
from layouts.rules.port_walls import check_port_walls
from layouts.rules.post_rules import check_posts
from layouts.rules.pressure_rules import check_test_pressure
from layouts.rules.process_rules import check_print_threads, check_print_walls
from layouts.rules.pump_rules import (
    check_beyond,
    check_bore,
    check_choice,
    check_fit,
    check_flow,
    check_noise,
    check_seat,
)
from layouts.rules.resin_rules import check_drain_paths
from layouts.rules.roof_rules import check_bridges, note_roofs
from layouts.rules.screw_room_rules import check_screw_room
from layouts.rules.screw_rules import check_cover_screws
from layouts.rules.seal_rules import (
    check_cord,
    check_groove_bends,
    check_groove_crossings,
    check_shared_grooves,
)
from layouts.rules.service_rules import check_service_ports
from layouts.rules.split_rules import check_printer_room, check_split_joint
from layouts.rules.stock_rules import check_outline_reach, check_sheet, check_travel, check_upright
from layouts.rules.tolerance_rules import (
    check_tolerance_rooms,
    check_tolerance_screws,
    check_tolerance_seal,
)
from layouts.rules.tube_rules import check_tube_moves, check_tube_room, check_tube_ways
from layouts.tubes.values import TubeRun


def check_plan(
    panel: Panel,
    routed: Routed,
    sealed: Sealed,
    flowing: Flowing,
    advised: Advised,
    detail: Detail,
    milled: Milled | None = None,
    printed: Printed | None = None,
    filling: Filling | None = None,
    tubes: tuple[TubeRun, ...] = (),
) -> tuple[Finding, ...]:
    """Return the findings of every rule that needs no solid.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    sealed : Sealed
    flowing : Flowing
    advised : Advised
    detail : Detail
    milled : Milled or None
    printed : Printed or None
    filling : Filling or None
    tubes : tuple of TubeRun

    Returns
    -------
    tuple of Finding
        Rule by rule; what the file accepts is not yet applied.
    """
    return (
        *check_routed(panel, routed, flowing, advised),
        *note_volume(panel, routed, advised.feeding),
        *check_drain(panel, routed),
        *check_service_ports(panel, routed),
        *check_seating(panel, routed),
        *check_port_walls(panel, routed, detail),
        *check_torque(panel, routed),
        *check_cord(panel),
        *check_groove_bends(panel, sealed),
        *check_groove_crossings(panel, sealed, detail),
        *check_groove_walls(panel, sealed, detail),
        *check_shared_grooves(panel, sealed),
        *check_cover_screws(panel, routed, sealed),
        *check_cover_wall(panel),
        *check_cover(panel, routed, advised.heating),
        *check_floors(panel, routed, advised.heating),
        *check_test_pressure(panel),
        *check_posts(panel, routed, advised.heating),
        *check_bond_lands(panel, sealed),
        *check_bond_pull(panel, sealed),
        *check_squeeze_out(routed, sealed),
        *check_clamps(panel, sealed),
        *check_bond_material(panel),
        *check_seat_floor(panel, routed),
        *check_pump_screws(panel, detail),
        *check_cutter(panel, milled),
        *check_radius(panel, milled),
        *check_reach(panel, milled),
        *check_outline_reach(panel, detail, milled),
        *check_milled_floors(panel, detail, milled),
        *check_travel(panel, milled),
        *check_upright(panel, milled),
        *check_sheet(panel, milled),
        *check_drill_depth(milled),
        *check_drill_points(panel, detail, milled),
        *check_slopes(panel, milled),
        *check_grazes(milled),
        *check_milled_wall(panel),
        *check_layer_floor(panel),
        *check_printable(panel),
        *check_material_heat(panel, advised.heating),
        *check_material_coolant(panel, advised.heating),
        *check_screw_growth(panel, sealed, advised.heating),
        *check_fastening(panel, routed, sealed, detail, advised),
        *check_inserts(panel, sealed, detail),
        *check_screw_room(panel, routed, sealed, detail),
        *check_bridges(panel, routed, printed),
        *note_roofs(panel, routed, printed),
        *check_print_walls(panel),
        *check_print_threads(panel, routed, detail),
        *check_drain_paths(panel, routed, detail),
        *check_printer_room(panel, printed),
        *check_split_joint(panel, printed),
        *check_tolerance_seal(panel, sealed),
        *check_tolerance_rooms(panel, routed, milled),
        *check_tolerance_screws(panel, sealed),
        *check_filling(panel, routed, filling),
        *check_tube_ways(panel, routed, tubes),
        *check_tube_room(tubes),
        *check_tube_moves(panel, routed, tubes),
    )


def check_routed(panel: Panel, routed: Routed, flowing: Flowing, advised: Advised) -> tuple[Finding, ...]:
    """Return the findings of the rules of feed, pump, flow, heat and fill, which need no more than what is routed.

    Those that count ports for bleeding and draining are left out: a quick plan has none yet.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    flowing : Flowing
    advised : Advised
        Without `sizes` nothing is found of channels that are too narrow.

    Returns
    -------
    tuple of Finding
    """
    return (
        *check_feed_column(panel, routed),
        *check_feed_low(panel, routed),
        *check_feed_depth(panel, routed, flowing, advised.feeding),
        *check_feed_tilt(panel, routed, advised.feeding),
        *check_inlet_head(panel, routed, advised.feeding),
        *check_feed_bore(panel, routed),
        *check_choice(panel, advised.pumping),
        *check_fit(panel, routed),
        *check_bore(panel, routed),
        *check_seat(panel, routed),
        *check_noise(panel, flowing, advised.pumping),
        *check_flow(panel, flowing, advised),
        *check_velocity(panel, routed, flowing),
        *check_narrow(panel, routed, advised.sizes),
        *check_beyond(panel, flowing),
        *check_part_curves(panel),
        *check_uneven(panel, flowing, advised.groups),
        *check_rises(advised.heating),
        *check_heat_kept(panel, advised.heating, advised.feeding),
        *check_coolant_level(panel, advised.heating),
        *check_order(advised.heating),
        *check_capacities(panel, advised.heating),
        *check_fill(panel, routed),
        *check_growth(panel, routed, advised.feeding),
        *check_port_room(routed),
    )


def check_seating(panel: Panel, routed: Routed) -> tuple[Finding, ...]:
    """Return the findings of the rules of ports' seats and threads.

    Parameters
    ----------
    panel : Panel
    routed : Routed

    Returns
    -------
    tuple of Finding
    """
    return (
        *check_port_seats(panel, routed),
        *check_threads(panel, routed),
    )
