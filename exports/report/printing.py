"""The report's key "printing": how each printed part lies, its roofs, the poses that were tried, what its mesh gets."""

from __future__ import annotations

from typing import Any

from exports.wording.figures import round_plain
from exports.wording.print_words import print_settings, tell_settings
from geom.printing.mesh_fits import PrintFit
from layouts.plan import Plan
from layouts.printing.plan_fits import plan_fits
from layouts.printing.printed import ChannelRoof
from layouts.printing.process import process_of
from layouts.printing.tried import PartPoses, TriedPose


def printing_section(plan: Plan, parts: tuple[PartPoses, ...]) -> dict[str, Any] | None:
    """Return the report's key "printing", ready for JSON.

    Parameters
    ----------
    plan : Plan
    parts : tuple of PartPoses
        Empty where no solids were built.

    Returns
    -------
    dict or None
        None for a milled panel.
    """
    if plan.printed is None:
        return None
    process, settings = process_of(plan.panel), print_settings(plan.panel)
    return {
        "process": process.name,
        "settings": {
            "layer_mm": round_plain(settings.layer, 3),
            "line_width_mm": round_plain(settings.line_width, 3) if settings.line_width > 0 else None,
            "wall_mm": round_plain(settings.wall, 3),
            "wall_lines": settings.lines or None,
            "told": list(tell_settings(plan.panel)),
        },
        "overhang_deg": round_plain(process.overhang_deg, 1),
        "bridge_mm": round_plain(process.bridge, 3),
        "pose": plan.printed.pose.name,
        "up": [round_plain(c, 6) for c in plan.printed.pose.up],
        "roofs": [_channel_roof(roof) for roof in plan.printed.roofs],
        "parts": [_part(part, plan.panel.make.room is None) for part in parts],
        "port_threads": plan.panel.printing.port_threads,
        "meshes": [_mesh(fit) for fit in plan_fits(plan.panel, plan.routed, plan.detail, plan.printed)],
    }


def _mesh(fit: PrintFit) -> dict[str, Any]:
    """Return in what a part's STL and 3MF differ from its STEP file, which has the nominal sizes."""
    return {
        "part": fit.part,
        "bore_offset_mm": round_plain(fit.offset, 3),
        "bores": [wide.name for wide in fit.bores],
        "threads": [
            {
                "bore": cut.name,
                "length_mm": round_plain(cut.length, 2),
                "clearance_mm": round_plain(cut.clearance, 3),
            }
            for cut in fit.threads
        ],
        "scale": round_plain(fit.scale, 6),
        "up": [round_plain(c, 6) for c in fit.up],
    }


def _channel_roof(roof: ChannelRoof) -> dict[str, Any]:
    return {
        "channel": roof.channel,
        "kind": roof.kind,
        "span_mm": round_plain(roof.span, 3),
        "bridged_mm": round_plain(roof.left, 3),
        "rise_mm": round_plain(roof.rise, 3),
        "inset_mm": round_plain(roof.inset, 3),
        "higher_mm": round_plain(roof.higher, 3),
        "friction_over_flat": round_plain(roof.drop_share, 3),
    }


def _part(part: PartPoses, roomless: bool) -> dict[str, Any]:
    return {
        "part": part.part,
        "pose": part.made.pose.name,
        "roofs": [
            {
                "at_mm": [round_plain(c, 3) for c in roof.at],
                "span_mm": round_plain(roof.span, 2),
                "area_mm2": round_plain(roof.area, 1),
                "inside": roof.inside,
                "carried": roof.carried,
                "features": list(part.features_at(roof.at)),
            }
            for roof in part.made.measure.roofs
        ],
        "islands_mm": [[round_plain(c, 3) for c in at] for at in part.made.measure.islands],
        "poses": [_pose(one, roomless) for one in part.tried],
    }


def _pose(one: TriedPose, roomless: bool) -> dict[str, Any]:
    measure = one.measure
    inside = [roof for roof in measure.roofs if roof.inside]
    return {
        "pose": one.pose.name,
        "up": [round_plain(c, 6) for c in measure.up],
        "fits": None if roomless else one.fits,
        "stands": measure.stands,
        "height_mm": round_plain(measure.height, 2),
        "footprint_mm": [round_plain(c, 2) for c in measure.footprint],
        "bed_mm2": round_plain(measure.bed_mm2, 1),
        "roofs_inside": len(inside),
        "widest_inside_mm": round_plain(inside[0].span, 2) if inside else None,
        "islands": len(measure.islands),
        "cups": len(one.cups),
        "support_mm2": round_plain(measure.support_mm2, 1),
    }
