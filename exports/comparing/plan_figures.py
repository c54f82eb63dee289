"""The figures of one plan that a comparison tells, in groups."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from exports.comparing.errors import CHANNEL_BAND, volume_error_ml
from exports.comparing.flow_figures import list_channels, list_flow, list_heat, share_of_head
from exports.comparing.making_figures import list_cost, list_making, list_mass, list_plate
from exports.comparing.place_figures import list_places, list_ports, list_tubes
from exports.comparing.rows import Figures
from exports.comparing.values import Figure, NamedFigure
from exports.report.filling import VOXEL_BAND
from exports.wording.routing_words import tell_proof
from geom.standards import tables
from geom.units import kpa, l_min, ml
from geom.words import join_names
from layouts.closing.gland import cut_length, scarf_allowance
from layouts.faces import cover_name
from layouts.feed import tank_volume_ml
from layouts.filling.sequence_values import FillSequence
from layouts.filling.values import Filling
from layouts.plan import Plan
from layouts.strength.fastening import fasten_plan
from layouts.wet_volume import channel_volume_ml


def list_figures(plan: Plan) -> Figures:
    """Return the figures of a plan by groups.

    Parameters
    ----------
    plan : Plan
    """
    groups: tuple[tuple[str, Callable[[Plan], Iterator[NamedFigure]]], ...] = (
        ("plate", list_plate),
        ("making", list_making),
        ("flow", list_flow),
        ("channels", list_channels),
        ("heat", list_heat),
        ("coolant", _list_coolant),
        ("filling", _list_filling),
        ("mass, planned", list_mass),
        ("cover screws", _list_screws),
        ("cords", _list_cords),
        ("ports", list_ports),
        ("places", list_places),
        ("tubes", list_tubes),
        ("routing", _list_routing),
        ("cost", list_cost),
    )
    return {name: tuple(listed(plan)) for name, listed in groups}


def _list_coolant(plan: Plan) -> Iterator[NamedFigure]:
    panel, routed, feeding = plan.panel, plan.routed, plan.advised.feeding
    channels = channel_volume_ml(panel, routed)
    error = CHANNEL_BAND * channels
    tank = tank_volume_ml(panel, routed)
    if tank is not None:
        yield NamedFigure("tank", "mL", Figure(tank, 0.0, 0))
    yield NamedFigure("tank up to its cold level", "mL", Figure(feeding.tank_ml, 0.0, 0))
    yield NamedFigure("channels with the bores into them", "mL", Figure(channels, error))
    yield NamedFigure(
        "loop outside the tank, as far as volumes are given", "mL", Figure(feeding.loop_ml, error)
    )
    yield NamedFigure(
        "no volume given of", "", Figure(join_names(feeding.unknown_parts) or "none"), single=True
    )
    if feeding.cover_mm is not None:
        yield NamedFigure("coolant over the tank's outlet, cold", "mm", Figure(feeding.cover_mm, 0.0, 1))
    if feeding.room_ml is not None and feeding.growth_ml is not None:
        yield NamedFigure(
            "room to grow that it does not need", "mL", Figure(feeding.room_ml - feeding.growth_ml, error, 1)
        )


def _list_filling(plan: Plan) -> Iterator[NamedFigure]:
    filling = plan.filling
    if filling is None:
        return
    if filling.sequence is not None:
        yield from _list_sequence(filling.sequence)
    yield from _list_left(filling)


def _list_sequence(sequence: FillSequence) -> Iterator[NamedFigure]:
    # What is poured depends on how hoses lie: straight ones are a fair ground for both panels.
    for what, volume in (
        ("poured before the pump may run, hoses straight", sequence.may_run_ml),
        ("poured in all", sequence.total_ml),
    ):
        figure = Figure("may not run") if volume is None else Figure(volume, VOXEL_BAND * volume)
        yield NamedFigure(what, "mL", figure)
    yield NamedFigure("times that the tank is filled up again", "", Figure(sequence.tops, 0.0, 0))


def _list_left(filling: Filling) -> Iterator[NamedFigure]:
    for what, volume in (
        ("air that stays when filled", ml(filling.left.air_mm3)),
        ("coolant that stays when drained", ml(filling.left.coolant_mm3)),
    ):
        yield NamedFigure(what, "mL", Figure(volume, volume_error_ml(volume)))


def _list_screws(plan: Plan) -> Iterator[NamedFigure]:
    for one in fasten_plan(plan):
        name = f"{cover_name(one.layer)} screws"
        size = one.screw if one.length is None else f"{one.screw} x {one.length:g}"
        yield NamedFigure(name, "", Figure(len(one.loads_n), 0.0, 0))
        yield NamedFigure(f"{name}, size", "", Figure(size))
        if one.insert is not None:
            yield NamedFigure(f"{name}, inserts", "", Figure(one.insert))
    for coverage in plan.sealed.coverage:
        name = f"{cover_name(coverage.layer)} screws"
        yield NamedFigure(f"{name}, fewest proven to do", "", Figure(coverage.least, 0.0, 0))
        yield NamedFigure(f"{name}, most between neighbours", "mm", Figure(coverage.spacing, 0.0, 1))


def _list_cords(plan: Plan) -> Iterator[NamedFigure]:
    loops = plan.sealed.loops
    if not loops:
        return
    cord = tables.cord(plan.panel.make.cord)
    yield NamedFigure("cord, section", "mm", Figure(cord.section))
    yield NamedFigure("pieces", "", Figure(len(loops), 0.0, 0))
    cut = sum(cut_length(loop, cord)[1] + (scarf_allowance(cord) if loop.closed else 0.0) for loop in loops)
    yield NamedFigure("cut lengths in all, splices included", "m", Figure(cut / 1e3))


def _list_routing(plan: Plan) -> Iterator[NamedFigure]:
    routed = plan.routed
    yield NamedFigure("routed for a flow of", "L/min", Figure(l_min(routed.design_flow_m3_s)))
    taken, error = share_of_head(plan)
    head = kpa(routed.channels_pa)
    # As uncertain as at the operating point: the same formulas.
    told = Figure(head, head * error / taken if taken > 0.0 else 0.0, 3)
    yield NamedFigure("channels take of the head at that flow", "kPa", told)
    yield NamedFigure("proof", "", Figure(tell_proof(plan.panel, routed)))
