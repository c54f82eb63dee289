"""Losses of 90-degree tees with equal legs, signed: a leg may gain from the other's stream."""

from __future__ import annotations

import math
from typing import Literal

from geom.errors import OutOfRange

TeeLeg = Literal["run", "branch"]

JOIN_SHARE = 0.05
"""Over this share of the flow, on either side of a leg that stands still, the published formulas of the two
directions are joined: they differ there, by 10 % for a still branch (1.0 dividing, 0.9 merging)."""

STILL_SHARE = 1e-12
"""Share of flow that stands for "just to this side of still"."""


def loss_tee(leg: TeeLeg, merging: bool, branch_share: float) -> float:
    """Return K of one leg of a tee whose main flow goes straight through.

    Parameters
    ----------
    leg : {"run", "branch"}
        Leg between which and the combined leg the loss stands.
    merging : bool
        Whether run and branch merge into the combined leg; else it divides into them.
    branch_share : float
        Flow of the branch over combined flow, 0 to 1, [-].

    Returns
    -------
    float
        K on the combined leg's velocity, positive or negative, [-]. Expect 25 %.

    Raises
    ------
    OutOfRange
        `branch_share` outside 0 to 1.

    Source
    ------
    Crane, Technical Paper 410 (2009 and later), chapter 2, tees of equal legs at 90 degrees. The factor of
    the merging branch falls to its upper value at a share of 0.389, where the two meet, for the printed 0.4,
    where they jump by 2 %.
    """
    if not 0 <= branch_share <= 1:
        raise OutOfRange(f"tee with a branch share of {branch_share:g}: it must be 0 to 1")
    q = branch_share
    if merging and leg == "branch":
        return max(0.9 * (1.0 - q), 0.55) * (1.0 + q * q - 2.0 * (1.0 - q) ** 2)
    if merging:
        return 1.55 * q - q * q
    if leg == "branch":
        return (1.0 + 0.3 * q * q) ** 2
    return (2.0 if q <= 0.5 else 0.3) * (2.0 * q - 1.0) * q * q


def loss_opposed_tee(merging: bool, leg_share: float) -> float:
    """Return K of one straight leg of a tee whose whole flow goes through the branch.

    Parameters
    ----------
    merging : bool
        Whether the two straight legs merge into the branch; else the branch divides into them.
    leg_share : float
        Flow of the leg over that of the branch, 0 to 1, [-].

    Returns
    -------
    float
        K on the branch's velocity, [-]. Expect 25 %, on the high side when merging.

    Raises
    ------
    OutOfRange
        `leg_share` outside 0 to 1.

    Source
    ------
    Merging: Idelchik, Handbook of Hydraulic Resistance, 3rd edition, diagram 7-29, equal areas, without its
    reducing factor A. Dividing: Crane's dividing branch (`loss_tee`), each leg being a right-angled turn.
    """
    if not 0 <= leg_share <= 1:
        raise OutOfRange(f"tee with a leg share of {leg_share:g}: it must be 0 to 1")
    if merging:
        return 2.0 + 3.0 * (leg_share * leg_share - leg_share)
    return loss_tee("branch", False, leg_share)


def find_tee_drops(combined: float, run: float, branch: float) -> tuple[float, float]:
    """Return what a tee adds between its combined leg and the two others, for any direction of flow.

    Parameters
    ----------
    combined, run, branch : float
        Flow of each leg over the area of the legs, positive towards the tee, [m/s]; they add up to 0.

    Returns
    -------
    tuple of float
        Total pressure in run and branch at the tee above that in the combined leg, over half the density,
        [m2/s2]. Continuous in the velocities: where a leg stands still the published formulas for either
        side of it differ, and are led to their mean over `JOIN_SHARE`.

    Source
    ------
    `loss_tee`, `loss_opposed_tee`.
    """
    flows = (combined, run, branch)
    sizes = tuple(abs(flow) for flow in flows)
    whole = max(sizes)
    if whole == 0.0:
        return 0.0, 0.0
    least = sizes.index(min(sizes))
    share = sizes[least] / whole
    if share < STILL_SHARE:
        flows = _set_least(flows, least, math.copysign(STILL_SHARE * whole, flows[least]))
    on_run, on_branch = _find_unjoined_drops(flows)
    if share < JOIN_SHARE:
        here = math.copysign(STILL_SHARE, flows[least])
        near = _find_unjoined_drops(_set_least(flows, least, here * whole))
        far = _find_unjoined_drops(_set_least(flows, least, -here * whole))
        weight = 0.5 * (1.0 - share / JOIN_SHARE)
        on_run += weight * (far[0] - near[0])
        on_branch += weight * (far[1] - near[1])
    return on_run * whole**2, on_branch * whole**2


def _set_least(flows: tuple[float, float, float], least: int, flow: float) -> tuple[float, float, float]:
    """Return the flows with the least one replaced, and the next leg taking up the difference."""
    changed = list(flows)
    changed[least] = flow
    changed[(least + 1) % 3] = -flow - changed[(least + 2) % 3]
    return changed[0], changed[1], changed[2]


def _find_unjoined_drops(flows: tuple[float, float, float]) -> tuple[float, float]:
    """Return run and branch above combined, on the whole flow's velocity head, by the published formulas."""
    combined, run, branch = flows
    whole = max(abs(flow) for flow in flows)
    if abs(branch) >= whole:
        merging = branch < 0
        sign = 1.0 if merging else -1.0
        on_combined, on_run = (
            sign * loss_opposed_tee(merging, min(1.0, abs(flow) / whole)) for flow in (combined, run)
        )
        return on_run - on_combined, -on_combined
    main = combined if abs(combined) >= abs(run) else run
    merging = main < 0
    sign = 1.0 if merging else -1.0
    share = min(1.0, abs(branch) / whole)
    straight, side = sign * loss_tee("run", merging, share), sign * loss_tee("branch", merging, share)
    return (straight, side) if main == combined else (-straight, side - straight)


def trace_tee(run: float, branch: float) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Return what a tee adds between its combined leg and the two others, and how that changes.

    Parameters
    ----------
    run, branch : float
        Flow of each leg, positive towards the tee, in one unit; the combined leg takes the rest.

    Returns
    -------
    tuple of (float, float, float)
        For the run and for the branch: as `find_tee_drops`, in the unit squared, and its change with the flow
        of the run and with that of the branch, in the unit. The change with the smaller flow is a difference,
        central; that with the larger follows from it, since twice as much flow adds four times as much.
    """
    drops = find_tee_drops(-(run + branch), run, branch)
    most = max(abs(run), abs(branch))
    if most == 0.0:
        return (0.0, 0.0, 0.0), (0.0, 0.0, 0.0)
    half = 1e-6 * most
    if abs(run) >= abs(branch):
        up = find_tee_drops(-(run + branch + half), run, branch + half)
        down = find_tee_drops(-(run + branch - half), run, branch - half)
    else:
        up = find_tee_drops(-(run + half + branch), run + half, branch)
        down = find_tee_drops(-(run - half + branch), run - half, branch)
    on_run, on_branch = (_add_slopes(*one, run, branch, half) for one in zip(drops, up, down, strict=True))
    return on_run, on_branch


def _add_slopes(
    drop: float, up: float, down: float, run: float, branch: float, half: float
) -> tuple[float, float, float]:
    """Return a drop and its change with run and branch, by Euler's theorem on homogeneous functions."""
    by_small = (up - down) / (2 * half)
    if abs(run) >= abs(branch):
        return drop, (2 * drop - branch * by_small) / run, by_small
    return drop, by_small, (2 * drop - run * by_small) / branch
