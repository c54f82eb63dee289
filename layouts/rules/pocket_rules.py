"""Design rules of what stays: air when the panel is filled (`air.left`), coolant when it is drained (`drain.left`)."""

from __future__ import annotations

import math

from geom.findings import Finding, Severity
from geom.units import ml, show_ml, show_number
from geom.words import count_of
from layouts.cures import Cure, join_cures
from layouts.file.offers import offer_changes
from layouts.filling.fall_pockets import is_carried_out
from layouts.filling.pocket_limits import (
    AIR_MUCH_MM3,
    AIR_TOLD_MM3,
    BORE_TOLD_MM3,
    COOLANT_MUCH_MM3,
    COOLANT_MUCH_SHARE,
    COOLANT_TOLD_MM3,
    MOST_TOLD,
)
from layouts.filling.pockets_told import channels_of, find_own_bore, find_port, list_told, name_holders
from layouts.filling.service.service_trials import find_missing
from layouts.filling.service.standing import PortKind
from layouts.filling.values import Filling, Pocket, Tilt
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.findings import make_finding
from layouts.rules.pocket_words import show_xy, thin_service, write_cures


def check_air_left(panel: Panel, routed: Routed, filling: Filling) -> tuple[Finding, ...]:
    """Ask whether all air leaves when the panel is filled with the pump at rest (`air.left`).

    Parameters
    ----------
    panel : Panel
    routed : Routed
    filling : Filling
    """
    air = tuple(pocket for pocket in filling.left.air if pocket.shut)
    told = [air[k] for k in list_told(panel, routed, air, air=True)]
    found, said = [], set[Tilt]()
    for pocket in told[:MOST_TOLD]:
        channels = channels_of(routed, pocket)
        carried = is_carried_out(filling.carries, pocket, channels)
        much = pocket.volume_mm3 >= AIR_MUCH_MM3 and not carried
        least = AIR_TOLD_MM3 if find_own_bore(panel, routed, pocket) is None else BORE_TOLD_MM3
        severity: Severity = "caution" if much else "note"
        cures = write_cures(panel, routed, pocket, True, said)
        text = (
            f"{show_ml(ml(pocket.volume_mm3))} mL of air stays in {_name_holders(pocket)} when the panel is filled "
            f"with the pump at rest: {_name_way_out(routed, pocket, 'lower')}"
        )
        if carried:
            text += "; coolant runs fast enough there to carry it out"
            cures.insert(0, Cure("run the pump until no more bubbles come, and top up"))
        elif much:
            missing, thread = _tell_missing(panel, routed, "bleed", pocket)
            text, cures = text + missing, [*thread, *cures]
        found.append(
            make_finding(
                "air.left",
                severity,
                text,
                join_cures(cures, "; or "),
                ml(pocket.volume_mm3),
                ml(AIR_MUCH_MM3 if much else least),
                "mL",
                pocket.at,
                pocket.features,
                offer_changes(panel, *cures),
            )
        )
    rest = told[MOST_TOLD:]
    if rest:
        found.append(
            make_finding(
                "air.left",
                "caution" if rest[0].volume_mm3 >= AIR_MUCH_MM3 else "note",
                _tell_rest(rest, "air"),
                "see to the larger ones first, then look at these again",
                ml(_sum(rest)),
                ml(AIR_TOLD_MM3),
                "mL",
                rest[0].at,
                _name_features(rest),
            )
        )
    return tuple(found)


def check_drain_left(panel: Panel, routed: Routed, filling: Filling) -> tuple[Finding, ...]:
    """Ask whether all coolant runs out when the panel is drained (`drain.left`).

    Parameters
    ----------
    panel : Panel
    routed : Routed
    filling : Filling
    """
    told = [filling.left.coolant[k] for k in list_told(panel, routed, filling.left.coolant, air=False)]
    most = min(COOLANT_MUCH_MM3, COOLANT_MUCH_SHARE * filling.left.wet_mm3)
    drains = any(port.role == "drain" for port in routed.ports)
    how = "when the panel is drained" if drains else "when the panel is drained through the hose mouths"
    found, said = [], set[Tilt]()
    for pocket in told[:MOST_TOLD]:
        much = pocket.volume_mm3 > most
        severity: Severity = "caution" if much else "note"
        cures = write_cures(panel, routed, pocket, False, said)
        missing, thread = _tell_missing(panel, routed, "drain", pocket) if much else ("", ())
        cures = [*thread, *cures]
        found.append(
            make_finding(
                "drain.left",
                severity,
                f"{show_ml(ml(pocket.volume_mm3))} mL of coolant stays in {_name_holders(pocket)} {how}: "
                f"{_name_way_out(routed, pocket, 'higher')}{missing}",
                join_cures(cures, "; or "),
                ml(pocket.volume_mm3),
                ml(most if much else COOLANT_TOLD_MM3),
                "mL",
                pocket.at,
                pocket.features,
                offer_changes(panel, *cures),
            )
        )
    rest = told[MOST_TOLD:]
    if rest:
        found.append(
            make_finding(
                "drain.left",
                "caution" if rest[0].volume_mm3 > most else "note",
                _tell_rest(rest, "coolant"),
                "see to the larger ones first, then look at these again",
                ml(_sum(rest)),
                ml(COOLANT_TOLD_MM3),
                "mL",
                rest[0].at,
                _name_features(rest),
            )
        )
    return tuple(found)


def _tell_missing(
    panel: Panel, routed: Routed, kind: PortKind, pocket: Pocket
) -> tuple[str, tuple[Cure, ...]]:
    """Return why the file's "auto" puts no port there, and the thread with which it does."""
    if any(relief.kind == kind for relief in pocket.reliefs):
        return "", ()
    missing = find_missing(panel, routed, kind, pocket, channels_of(routed, pocket))
    if missing is None:
        return "", ()
    thread = (thin_service(missing.thread),) if missing.thread is not None else ()
    return f'; {kind} = "auto" of [service] puts no port there: {missing.why}', thread


def _name_holders(pocket: Pocket) -> str:
    return name_holders(pocket.features) or "the panel"


def _name_way_out(routed: Routed, pocket: Pocket, where: str) -> str:
    """Return where the way out is that keeps a pocket: "its way out lies 12 mm lower, at ..."."""
    if pocket.way_out is None:
        return "no way leads out of there"
    port = find_port(routed, pocket.way_out)
    at = f'port "{port.name}"' if port is not None else f"{show_xy(pocket.way_out)} mm"
    return f"the way out lies {show_number(pocket.depth, 2)} mm {where}, at {at}"


def _count_rest(rest: list[Pocket]) -> str:
    return f"{count_of(len(rest), 'more pocket')} {'holds' if len(rest) == 1 else 'hold'}"


def _tell_rest(rest: list[Pocket], what: str) -> str:
    said = f"{_count_rest(rest)} {show_ml(ml(_sum(rest)))} mL of {what}"
    return said if len(rest) == 1 else f"{said} in all, the largest {show_ml(ml(rest[0].volume_mm3))} mL"


def _sum(pockets: list[Pocket]) -> float:
    return math.fsum(pocket.volume_mm3 for pocket in pockets)


def _name_features(pockets: list[Pocket]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for pocket in pockets for name in pocket.features))
