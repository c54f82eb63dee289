"""What goes into the ports, in two rounds: plugs before the panel is tested alone, fittings and hoses after it."""

from __future__ import annotations

from exports.sheets.caution_sheet import has_plastic
from exports.sheets.values import Block, Grid, Heading, Schematic, Step
from exports.tables.tube_tables import tube_rows
from exports.wording.figures import show_mm
from exports.wording.hole_numbers import port_numbers
from geom.units import show_number
from geom.words import count_of, join_names
from layouts.faces import joints_of
from layouts.filling.bench_words import name_ports
from layouts.leak_test import LeakTest
from layouts.plan import PlacedPort, Plan


def list_plugging(plan: Plan, test: LeakTest) -> list[Block]:
    """Return what comes before the test of the panel alone: the pump's seat and all plugs, no hose yet.

    Parameters
    ----------
    plan : Plan
    test : LeakTest
    """
    panel, routed = plan.panel, plan.routed
    pump = panel.pump
    screws = (
        f" with {count_of(len(routed.pump.screws), 'screw')} {pump.screw_size}, crosswise, by the torque of the "
        "pump's maker"
        if pump.screw_size is not None and routed.pump.screws
        else " as its maker says"
    )
    turned = f", turned {routed.pump.turn_deg} degrees counter-clockwise" if routed.pump.turn_deg else ""
    tight = [
        port.name
        for port in routed.ports
        if port.is_shut and not is_vent(port) and port.name != test.gauge_port
    ]
    vents = [port.name for port in routed.ports if is_vent(port)]
    count = len(test.plugged)
    rows = tuple(_port_row(plan, k) for k in range(len(routed.ports)))
    letters = "A, and W where it is asked for" if test.air else "W"
    return [
        Heading("Pump and plugs"),
        Schematic(
            "ports",
            "front",
            "Ports with their numbers in the drawing, seen from the front: round marks take fittings, square ones "
            "plugs. Those on edges stand outside; a mark that has no room at its port has a line to it.",
        ),
        Grid(("port", "name", "thread", "face", "takes"), rows, ticked=True),
        Step(
            f"Wipe the pump's seat, Ø{show_mm(pump.seat_diameter)} mm, lay in the pump's own seals, and screw the "
            f"pump on{screws}; its outlet bore stands at ({show_mm(routed.pump.outlet[0])}, "
            f"{show_mm(routed.pump.outlet[1])}) mm{turned}."
        ),
        *(
            [
                Step(
                    f"Put {count_of(len(tight), 'plug')} into {name_ports(tight)}, a sealing ring under each collar, "
                    f"no tape. {_tell_turning(plan)}"
                )
            ]
            if tight
            else []
        ),
        Step(
            f'For the test the test fitting goes into "{test.gauge_port}", and {count_of(count, "test plug")} into all '
            "ports that hoses will leave by, with their rings"
            + ("." if tight else f". {_tell_turning(plan)}")
        ),
        Step(
            f"Leak test {letters}, as on the next sheet, before any hose or part is on the panel.",
            ("passed, date",),
        ),
        *(
            [
                Step(
                    f"{name_ports(vents)} gets its vented plug as the last step of filling, never a tight one: warm "
                    "coolant under a tight plug bursts the panel."
                )
            ]
            if vents
            else []
        ),
    ]


def is_vent(port: PlacedPort) -> bool:
    """Return whether a port takes the vented plug in use."""
    return port.role == "fill"


def _tell_turning(plan: Plan) -> str:
    if not has_plastic(plan):
        return "Turn them in by hand until the ring touches, then with a spanner as their maker says."
    against = " and never against a cover" if joints_of(plan.panel) else ""
    return (
        "Turn them in by hand until the ring touches, then at most a quarter turn more, held against the panel's own "
        f"weight{against}: little torque bursts plastic."
    )


def list_fitting(plan: Plan, test: LeakTest) -> list[Block]:
    """Return what comes after the test of the panel alone: fittings, tubes, hoses, then the test of the loop.

    Parameters
    ----------
    plan : Plan
    test : LeakTest
    """
    hoses = [port for port in plan.routed.ports if not port.is_shut]
    threads = join_names(tuple(dict.fromkeys(port.thread for port in hoses)))
    head, *tubes = tube_rows(plan)
    return [
        Heading("Fittings and hoses"),
        Step(
            f"Take the test plugs out and put {count_of(len(hoses), 'fitting')} into the ports of the parts "
            f"({threads}), a sealing ring under each collar, no tape. {_tell_turning(plan)}"
        ),
        *([Grid(head, tuple(tubes), right=(3,), ticked=True)] if tubes else []),
        Step(_tell_hoses(plan)),
        Step(
            "Wipe every joint, fitting and edge with a dry white cloth: it comes away dry and without dust, so that "
            "a later drop shows."
        ),
        *(
            [Step("Leak test B, the whole loop dry, before anything is filled.", ("passed, date",))]
            if test.air
            else []
        ),
    ]


def _tell_hoses(plan: Plan) -> str:
    panel = plan.panel
    volume = (
        ""
        if panel.hose_volume_ml is None
        else f"; all hoses together hold {show_number(panel.hose_volume_ml, 3)} mL by the file"
    )
    tubes = "Cut the tubes of the table square, to within 1 mm, break their edges, push each home in both fittings"
    hoses = (
        "Cut the hoses so that none is bent tighter than its maker allows, none pulls at its fitting, none rises "
        "higher than it must; push each on to its stop and clamp it"
    )
    joined = {tube.port for tube in plan.tubes}
    free = [port.name for port in plan.routed.ports if not port.is_shut and port.name not in joined]
    if not joined:
        return f"{hoses}{volume}."
    if not free:
        return f"{tubes}{volume}."
    return f"{tubes}. Hoses go to {name_ports(free)}. {hoses}{volume}."


def _port_row(plan: Plan, k: int) -> tuple[str, ...]:
    port = plan.routed.ports[k]
    tube = next((one.name for one in plan.tubes if one.port == port.name), "")
    takes = (
        ("vented plug" if is_vent(port) else "plug")
        if port.is_shut
        else f"fitting, {tube or f'hose to {port.part}'}"
    )
    part = next((one for one in plan.panel.parts if one.inlet.name == port.name), None)
    if part is not None and part.restrictor is not None:
        takes += f", orifice of {show_mm(part.restrictor)} mm"
    return port_numbers(plan)[k], port.name, port.thread, port.on, takes
