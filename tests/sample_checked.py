"""A check without solids: volumes of the plan, nothing measured; enough for what is written of a plan."""

from __future__ import annotations

from typing import Any, cast

from exports.check_solids import Checked
from geom.volume import Volumes, plan_volume
from layouts.plan import Plan


def unbuilt_check(plan: Plan) -> Checked:
    """Return what a check would hand on, without its solids, meshes, bending and poses."""
    wet = plan_volume(plan.detail, 0.01)
    none = cast(Any, None)
    return Checked(none, {}, none, Volumes(wet, wet, wet, False, ()), None, ())
