"""What the strength checks hand on: frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from layouts.bending.plate import Bent
from layouts.plan import Layer


@dataclass(frozen=True, slots=True)
class CoverCase:
    """A cover under one pressure.

    Parameters
    ----------
    name : {"working", "test"}
    pressure_pa : float
        [Pa]
    temperature_c : float
        Of the plate, [°C].
    young_mpa : float
        The modulus taken, [MPa]: at that temperature, and after years of load at working pressure.
    allowable_mpa : float
        [MPa]
    bent : Bent
        The cover. Its first lines are the cord loops of the joint, in their order; clamps in the order of the screws.
    body : Bent
        The body under the same loads, with lines and clamps in the same order; its lift is away from the cover, its
        stress not calculated.
    """

    name: Literal["working", "test"]
    pressure_pa: float
    temperature_c: float
    young_mpa: float
    allowable_mpa: float
    bent: Bent
    body: Bent


@dataclass(frozen=True, slots=True)
class CoverBending:
    """How one cover bends under all cases."""

    layer: Layer
    cases: tuple[CoverCase, ...]


@dataclass(frozen=True, slots=True)
class Fastening:
    """What the screws of one cover must do, and can.

    Parameters
    ----------
    layer : {"back", "front"}
    screw : str
        "M4".
    loads_n : tuple of float
        Pull on each screw at test pressure, cord and pressure together, in the order of the screws, [N]: its share,
        or what finite elements say where that is more.
    shares_n : tuple of float
        Its share of the load alone, [N].
    calculated : bool
        Whether finite elements were asked.
    asked_n : float
        What each should be tightened to, so that the joint stays closed at the most loaded one, [N].
    preload_n : float
        What each is tightened to: no more than thread, head and screw stand, [N].
    holds_n : float
        What its thread in the body (or the insert) may carry for years, [N].
    head_holds_n : float
        What the cover under its head, or its washer, may carry for years, [N].
    torque_nm : (float, float)
        Least and most for that preload, by the friction that may be, [N m]: an estimate.
    length : float or None
        Of the screw under its head, a preferred length, [mm]; None where even the shortest finds no thread.
    engagement : float
        Of its thread in the body, [mm].
    washer : float
        Outer diameter of the washer under its head, [mm]; 0 without.
    insert : str or None
        Name of its row in the table of inserts.
    washer_standard : str
        "ISO 7089", or "ISO 7093-1" for a large one; empty without.
    """

    layer: Layer
    screw: str
    loads_n: tuple[float, ...]
    shares_n: tuple[float, ...]
    calculated: bool
    asked_n: float
    preload_n: float
    holds_n: float
    head_holds_n: float
    torque_nm: tuple[float, float]
    length: float | None
    engagement: float
    washer: float
    insert: str | None
    washer_standard: str = ""
