"""Filling of a plan, made by hand: steps by height, pockets where the real floods find them. Invented numbers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from picture_texts import texts_of
from sample_plan import sample_plan

from geom.frame import Vec
from geom.wet.pieces import label_pieces
from geom.wet.raster import raster_wet
from geom.wet.voxels import WetVoxels
from layouts.filling.left import find_air, find_coolant
from layouts.filling.openings import find_openings, tank_voxels
from layouts.filling.sequence_values import FillSequence, FillStep, StepKind
from layouts.filling.values import (
    BenchStep,
    Carry,
    Filling,
    Left,
    LockedBore,
    Pocket,
    PortProposal,
    Tilt,
    TiltMap,
)
from layouts.plan import Plan

DEGREES = tuple(-45.0 + 7.5 * k for k in range(13))

UPS: tuple[Vec, ...] = (
    (1.0, 0.0, 0.0),
    (0.0, 0.0, 1.0),
    (0.5 * math.cos(0.3), math.sqrt(0.75) * math.cos(0.3), math.sin(0.3)),
)


def said(picture: str) -> str:
    """Return all that a picture says."""
    return " ".join(text for text, _ in texts_of(picture))


def stand(up: Vec, plan: Plan | None = None) -> Plan:
    """Return a plan, the sample's unless given, installed another way up."""
    plan = plan or sample_plan()
    return replace(plan, panel=replace(plan.panel, up=up))


def sample_filling(plan: Plan, spacing: float = 1.0) -> Filling:
    """Return a filling of a plan with something of every kind."""
    voxels = raster_wet(plan.detail.features, spacing)
    return Filling(
        left=_left(plan, voxels),
        sequence=_sequence(plan, voxels),
        carries=(
            Carry(
                "feed", "feed", (115.0, 78.0), (115.0, 35.0), "back", 43.0, 90.0, 8.4, 0.57, 0.61, (0.31, 0.34), 0.35,
                0.041, "carried",
            ),
            Carry(
                "block - tank", "block - tank", (50.0, 90.0), (50.0, 60.0), "back", 30.0, 90.0, 8.4, 0.27, 0.31,
                (0.31, 0.34), 0.35, 0.041, "may be carried",
            ),
        ),
        locked=(LockedBore("channel feed", (115.0, 50.0, 4.5), 4.2, 4.9),),
        bleed_order=(
            BenchStep("Open the fill port and pour slowly.", "fill"),
            BenchStep("Tilt the panel 15° to the left until no bubbles come."),
        ),
        drain_order=(
            BenchStep("Put a bowl under the drain."),
            BenchStep("Take the plug out of the drain.", "drain"),
        ),
        proposals=(
            PortProposal("bleed", "block - tank", "front", (50.0, 90.0, 20.0), "G1/8", 2300.0),
            PortProposal("drain", "feed", "front", (115.0, 40.0, 20.0), "G1/8", 900.0),
        ),
        tilts=sample_tilts(),
    )  # fmt: skip


def sample_tilts() -> TiltMap:
    """Return a map in which air falls to the left and coolant forwards; the outlet is bared far to the right."""
    right, front = np.meshgrid(DEGREES, DEGREES)
    air = np.maximum(0.0, 5000.0 + 120.0 * right + 10.0 * np.abs(front))
    coolant = np.maximum(0.0, 9000.0 - 200.0 * front + 20.0 * np.abs(right))
    return TiltMap(DEGREES, air, coolant, right < 30.0, Tilt(-45.0, 0.0), Tilt(0.0, 45.0), 1.0)


def _left(plan: Plan, voxels: WetVoxels) -> Left:
    openings = find_openings(plan.panel, plan.routed, plan.detail.features, voxels)
    heights = voxels.elevations(plan.panel.up)
    tank = tank_voxels(voxels)
    air = _pockets(voxels, find_air(voxels, openings, heights, tank).number >= 0, heights)
    coolant = _pockets(voxels, find_coolant(voxels, openings, heights).number >= 0, -heights)
    return Left(
        plan.panel.up,
        voxels.spacing,
        voxels.volume_mm3,
        air,
        coolant,
        sum(p.volume_mm3 for p in air),
        sum(p.volume_mm3 for p in coolant),
        (("fill", 4000.0),),
    )


def _pockets(voxels: WetVoxels, stays: np.ndarray, heights: np.ndarray) -> tuple[Pocket, ...]:
    pieces = label_pieces(voxels, stays)
    pockets = []
    for n in range(int(pieces.max(initial=-1)) + 1):
        where = np.flatnonzero(pieces == n)
        top = voxels.centres()[where[np.argmax(heights[where])]]
        names = dict.fromkeys(voxels.names[k] for k in voxels.owner[where].tolist())
        volume = len(where) * voxels.spacing**3
        if volume > 50.0:
            at = (float(top[0]), float(top[1]), float(top[2]))
            depth = float(np.ptp(heights[where]))
            pockets.append(Pocket(volume, at, at, depth, tuple(names)))
    return tuple(sorted(pockets, key=lambda p: -p.volume_mm3))


def _sequence(plan: Plan, voxels: WetVoxels) -> FillSequence:
    """Return steps in which the tank and the feed fill first, then all."""
    heights = voxels.elevations(plan.panel.up)
    tank = voxels.owned_by(("tank", "channel feed"))
    low, high = float(heights[tank].min()), float(heights[tank].max())
    surface = float(heights[tank_voxels(voxels)].min())
    level = low + 0.85 * (high - low)

    def step(
        kind: StepKind, poured: float, total: float, wet: np.ndarray, share: float, times: int = 1
    ) -> FillStep:
        top = float(heights[tank & wet].max(initial=low))
        covered = top - surface if top > surface else None
        full = float(np.count_nonzero(tank & wet)) / np.count_nonzero(tank)
        return FillStep(kind, times, poured, total, covered, full if covered else 0.0, share, wet)

    some = tank & (heights < low + 0.3 * (high - low))
    most = tank & (heights < level)
    half = (tank & (heights < low + 0.5 * (high - low))) | (~tank & (heights < heights.min() + 20.0))
    full = heights < level
    return FillSequence(
        (
            step("inlet covered", 3.2, 3.2, some, 0.0),
            step("may run", 2.1, 5.3, some, 0.0),
            step("level reached", 11.8, 17.1, most, 0.0),
            step("run", 0.0, 17.1, half, 0.31),
            replace(step("top up", 31.0, 48.1, full, 1.0, 4)),
            step("end", 0.0, 48.1, full, 1.0),
        ),
        3.2,
        5.3,
        12.0,
        4,
        48.1,
        ("block", "hoses"),
    )
