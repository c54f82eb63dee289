"""The leak test with air, dry, and the test with water, step by step."""

from __future__ import annotations

from exports.sheets.caution_sheet import AIR, NO_AIR, POWER, find_caution, is_acrylic, is_split
from exports.sheets.matters import list_matters
from exports.sheets.values import Block, Caution, Grid, Heading, Say, Step, WorkSheet, number_steps
from exports.wording.leak_words import list_numbers, show_allowed, show_bar, tell_accepted, tell_correction
from geom.findings import Finding
from geom.units import bar, mbar, show_ml, show_number
from geom.words import join_names, make_sentence
from layouts.faces import joints_of
from layouts.filling.bench_words import name_ports
from layouts.leak_test import DROP_ML, GAUGE_PA, THERMOMETER_K, AirTest, LeakTest, gauge_scale_bar
from layouts.plan import Plan

COOLED = (0.5, 1.0, 2.0, 3.0, 5.0)
"""Rows of the table of what a gauge shows, [K]."""

READ = ("time", "gauge, mbar", "air, °C", "barometer, mbar")
"""What is written down at the start and at the end of a hold."""

WATER_MIN = 30
"""How long the test with water is held, [min]; common practice, no source."""


def leak_sheet(plan: Plan, test: LeakTest, findings: tuple[Finding, ...]) -> WorkSheet:
    """Return the sheet of the leak test.

    Parameters
    ----------
    plan : Plan
    test : LeakTest
    findings : tuple of Finding
        All of the run.
    """
    blocks: list[Block] = [
        *((find_caution(AIR), Caution(NO_AIR)) if test.air else ()),
        find_caution(POWER),
        *list_matters(findings, "testing"),
    ]
    blocks += _with_air(plan, test) if test.air else _without_air(plan, test)
    return WorkSheet("Leak test", tuple(blocks))


def _with_air(plan: Plan, test: LeakTest) -> list[Block]:
    alone, whole = test.air
    more = test.pressure_pa < test.working_pa
    return [
        Say(
            f"A: the panel by itself, dry, before any hose is on it; then W, with water, {_tell_when(test)}; then B: "
            f"the whole loop, dry. A and B with air at {show_bar(test.pressure_pa)} over the room's. Then it is "
            "filled, on paper towels (next sheet). Here no pump runs, and nothing has power."
        ),
        *(
            [
                Say(
                    f"In use the panel sees up to {show_bar(test.working_pa)}, more than this test with air: test it "
                    "with water too, by W."
                )
            ]
            if more
            else []
        ),
        Heading("Numbers of this panel"),
        Grid(("", alone.what, whole.what), list_numbers(test), right=(1, 2)),
        *_list_unknown(whole),
        Heading("What the gauge does by itself"),
        Say(
            f"The gauge falls by {show_number(mbar(test.drift_pa_k), 2)} mbar for each kelvin that the air cools, "
            f"and by as much as the barometer rises, up to {mbar(test.barometer_pa_h):.0f} mbar in an hour in fast "
            f"weather. Air pumped in at once warms by up to {test.warms_k:.0f} K and then lets the gauge fall by "
            f"{_round_mbar(test.falls_pa)} mbar as it cools: in the panel within {_up_to_tens(test.air_cools_s)} s. "
            "The plates follow the room in hours, soft hoses stretch for minutes. So: panel and gauge "
            f"{test.lies_h:g} h in the room, no sun, no hand on it; pump slowly; wait {test.settle_min} min before "
            "the first reading."
        ),
        Grid(
            ("air cooler at the end by", *(f"{kelvin:g} K" for kelvin in COOLED)),
            (
                (
                    "gauge lower by itself by",
                    *(f"{mbar(kelvin * test.drift_pa_k):.1f} mbar" for kelvin in COOLED),
                ),
            ),
            right=tuple(range(1, len(COOLED) + 1)),
        ),
        Heading("A: the panel by itself, dry"),
        *number_steps(_steps(plan, test, alone), "A"),
        *_water(plan, test, f"W: with water, {_tell_when(test)}"),
        Heading("B: the whole loop, dry"),
        *number_steps(_steps(plan, test, whole), "B"),
        Heading("If it leaks"),
        Say(
            f"Brush soapy water on joints, fittings and plugs at no more than this pressure{_tell_soap(plan)}: bubbles "
            "show the place. Let the pressure off before anything is tightened or opened. "
            f"{_tell_cure(plan)}"
        ),
    ]


def _without_air(plan: Plan, test: LeakTest) -> list[Block]:
    return [
        Caution(make_sentence(tell_accepted(test))),
        Say(
            "W: the panel by itself, with water, before any hose is on it. Then hoses and parts, and it is filled, on "
            "paper towels (next sheet). Here no pump runs, and nothing has power."
        ),
        *_water(plan, test, "W: with water, at the most that it sees in use"),
        Heading("If it leaks"),
        Say(f"Let the pressure off before anything is tightened or opened. {_tell_cure(plan)}"),
    ]


def _tell_when(test: LeakTest) -> str:
    if test.pressure_pa < test.working_pa:
        return "for strength"
    return "for strength or instead of air"


def _tell_soap(plan: Plan) -> str:
    return " (on acrylic plain dish soap only, rinsed off at once)" if is_acrylic(plan) else ""


def _tell_cure(plan: Plan) -> str:
    """Return what is done about a leak, by what the panel has."""
    said = ["A fitting: new ring, clean seat."]
    if plan.sealed.loops:
        said.append("A cord: cover off, look for hair, nick or twist.")
    if plan.sealed.lands:
        said.append("A bond: do not press it, bond anew.")
    if is_split(plan):
        said.append("The joint of the pieces: apart again, look for hair or nick at the rings.")
    if plan.printed is not None:
        said.append("A printed wall that weeps: print anew with more walls.")
    return " ".join(said)


def _water(plan: Plan, test: LeakTest, title: str) -> list[Block]:
    locked = f"{bar(test.water_locked_pa_k):.0f}"
    return [
        Heading(title),
        Caution(
            f"Water that is shut in without air presses by about {locked} bar more for each kelvin that it warms, "
            "where nothing gives: a hand on the panel or sun does that in minutes. Watch the gauge as long as the "
            "valve is shut, let some out as soon as it rises, and open the valve before you leave."
        ),
        *number_steps(_water_steps(plan, test), "W", first=0),
    ]


def _round_mbar(pressure_pa: float) -> str:
    return f"{round(mbar(pressure_pa), -1):.0f}"


def _up_to_tens(seconds: float) -> str:
    return f"{10 * (int(seconds) // 10 + 1)}"


def _list_unknown(one: AirTest) -> list[Block]:
    said: list[Block] = []
    if one.unknown:
        said.append(
            Say(
                f"The file does not say what {join_names(one.unknown)} hold: there is more air and more energy "
                "than told here, and which leak shows is not known. Test the panel by itself with most care."
            )
        )
    said.append(
        Say(
            f"Energy: isentropic expansion (ASME PCC-2). Limit: {mbar(GAUGE_PA):.0f} mbar that a gauge reads to, "
            f"{THERMOMETER_K:g} K that a thermometer may be off, and the barometer's drift if it is not read. Drops "
            f"of {DROP_ML:g} mL at the pressure in use: the lower figure for a long fine leak, the higher for a hole "
            "in a thin wall; what is finer than this only the test on paper shows."
        )
    )
    return said


def _tell_port(plan: Plan, test: LeakTest) -> str:
    """Return what stands at the test fitting, from the panel on."""
    vent = plan.panel.tank.fill is not None and test.gauge_port == plan.panel.tank.fill.name
    return f'"{test.gauge_port}"{" (in place of the vented plug)" if vent else ""}'


def _tell_gauge(pressure_pa: float) -> str:
    return f"0 to {show_number(gauge_scale_bar(pressure_pa), 2)} bar"


def _tell_vessel(plan: Plan, test: LeakTest) -> str:
    """Return what is done about a tank of its own."""
    if plan.panel.tank.kind != "separate":
        return ""
    ports = [port.name for port in plan.routed.ports if port.part == "tank" and port.name != test.gauge_port]
    plugs = f": plugs in the panel's own {name_ports(ports)}" if ports else ""
    return f" The tank's vessel is left out, it is seldom made for pressure{plugs}."


def _tell_ratings(pressure_pa: float, what: str) -> str:
    return f"None of {what} may be rated under {show_bar(pressure_pa)}: look in their data sheets."


def _steps(plan: Plan, test: LeakTest, one: AirTest) -> list[Step]:
    pressure = f"{mbar(test.pressure_pa):.0f} mbar"
    at = (
        f"At {_tell_port(plan, test)} stands the test fitting: the gauge ({_tell_gauge(test.pressure_pa)}, read to "
        f"{mbar(GAUGE_PA):.0f} mbar) between the panel and the valve; on the panel's side too, where there is one, a "
        "relief valve set to just over the test pressure; the hand pump behind the valve."
    )
    if one.what == "panel alone":
        first = (
            "Panel dry, no hose and no part on it, pump on its seat (a blind plate in its place, where it is rated for "
            f"less than {show_bar(test.pressure_pa)}), plugs in all other ports: {len(test.plugged)} of them for this "
            f"test alone. {at}{_tell_vessel(plan, test)}"
        )
    else:
        parts = "the parts, hoses, fittings and the pump"
        first = (
            f"All parts and hoses on, all plugs in. {at} "
            f"{_tell_ratings(test.pressure_pa, parts)} Leave out what is.{_tell_vessel(plan, test)}"
        )
    return [
        Step(first),
        Step(f"Eye protection on, nobody's face over {_tell_faces(plan)}, a cloth over the panel."),
        Step(
            f"Pump to {mbar(test.pressure_pa) / 2:.0f} mbar, stop a minute, listen; then slowly to {pressure}, never "
            "over it. Shut the valve."
        ),
        Step(
            f"Wait {test.settle_min} min, set {pressure} again if it fell, shut the valve, take the hand pump off, "
            "wait 2 min. Then read:",
            READ,
        ),
        Step(f"Do not touch it for {one.hold_min} min. Then read again:", READ),
        Step(
            f"Corrected fall = {tell_correction(test)}. Tight: {show_allowed(one)} or less. More: it leaks.",
            ("corrected fall, mbar",),
        ),
        Step("Let the air out slowly through the valve before anything is opened."),
    ]


def _tell_faces(plan: Plan) -> str:
    return "cover or plugs" if joints_of(plan.panel) else "the panel or its plugs"


def _water_steps(plan: Plan, test: LeakTest) -> list[Step]:
    pressure = show_bar(test.water_pa)
    checked = test.water_pa == test.file_pa and not test.accepted
    why = ", the pressure that its strength is checked for," if checked else ""
    return [
        Step(
            f"Before {'B' if test.air else 'any hose is on it'}, on a tray, in a room that keeps its temperature, out "
            "of the sun; water, panel and room equally warm. Everything near it is switched off and unplugged. Eye "
            "protection on, hands off the panel, nobody's face over it."
        ),
        Step(
            f"The panel alone, as for A: {len(test.plugged)} plugs for the test besides its own."
            if test.air
            else f"The panel alone, plugs in all other ports: {len(test.plugged)} of them for this test alone."
        ),
        Step(
            f"At {_tell_port(plan, test)} stands the test fitting: the gauge ({_tell_gauge(test.water_pa)}) between "
            f"the panel and the valve; on the panel's side too a relief valve set to just over {pressure}; the hand "
            "pump for water behind the valve. Without a relief valve never shut that valve: a hand stays at the pump's "
            f"release. Pump off its seat and a blind plate there, unless it is rated for {pressure}. "
            f"{_tell_ratings(test.water_pa, 'plugs, plate, gauge and valves')}{_tell_vessel(plan, test)}"
        ),
        Step(
            f"Fill the panel wholly with water, {show_ml(test.water_ml)} mL, tilting it until no bubble comes: water "
            "holds less than a thousandth of the energy that as much air would at this pressure. Every bubble left "
            "holds energy."
        ),
        Step(
            f"Raise it slowly to {pressure}{why} and never over it; hold it {WATER_MIN} min, the gauge always watched, "
            "letting some out if it rises.",
            ("start, bar", "end, bar", "water at start, °C", "water at end, °C"),
        ),
        Step(
            "Wipe and look: no drop at any joint, fitting or edge, no crack, no whitening, no bulge that stays. A "
            "falling gauge alone tells little: one kelvin moves it more than a leak does."
        ),
        Step(
            "Open the valve first, then the plugs; drain the panel and let it dry wholly"
            f"{': B is a dry test' if test.air else ''}."
        ),
    ]
