"""What a panel file says of its cover screws: how close they stand, and their holes."""

from __future__ import annotations

from geom.frame import SAME_MM
from geom.standards.tables import material, material_names, screw, screw_names
from layouts.closing.spacing import LEAST_DIAMETERS
from layouts.file.model import MakeTable
from layouts.file.positions import Problems
from layouts.strength.screw_hole import choose_washer, widest_under


def check_screw_spacing(make: MakeTable, problems: Problems) -> None:
    """Check that the spacing asked for leaves the screws room beside each other."""
    key, spacing = ("make", "screw_spacing"), make.screw_spacing
    if spacing is None:
        return
    if make.closing != "cord":
        problems.add(
            key, f'read {spacing:g} mm; closing = "{make.closing}" has no cover screws: remove the key'
        )
        return
    if make.screw not in screw_names():
        return
    least = LEAST_DIAMETERS * screw(make.screw).diameter
    if spacing < least - SAME_MM:
        problems.add(
            key,
            f"read {spacing:g} mm; {make.screw} screws need {least:g} mm or more: write that, or remove the key",
        )


def check_screw_hole(make: MakeTable, problems: Problems) -> None:
    """Check that the holes in the cover let the screws through and leave their heads a seat."""
    key, hole = ("make", "screw_hole"), make.screw_hole
    if hole is None:
        return
    if make.closing != "cord":
        problems.add(key, f'read {hole:g} mm; closing = "{make.closing}" has no cover screws: remove the key')
        return
    plate = make.cover_material or make.material
    # A row that is not in its table is told elsewhere.
    if make.screw not in screw_names() or plate not in material_names():
        return
    row = screw(make.screw)
    washer = choose_washer(row, material(plate), make.large_washers)
    most = widest_under(row, washer)
    if row.clearance - SAME_MM <= hole <= most + SAME_MM:
        return
    seat = "head" if washer is None else f"washer of {washer.diameter:g} mm"
    problems.add(
        key,
        f"read {hole:g} mm; an {row.name} screw passes {row.clearance:g} mm or more, and its {seat} rests on the rim"
        f" of {most:g} mm or less: write a value between them, or remove the key",
    )
