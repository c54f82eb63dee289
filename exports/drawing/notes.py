"""The notes on a part: which file holds, tolerances, joint face, edges, material, what is left to do after a print."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from exports.drawing.face_captions import joint_faces
from exports.drawing.groove_table import tell_grooves
from exports.drawing.hole_table import explain_numbers
from exports.drawing.sheet_tables import TextBlock, wrap_text
from exports.drawing.values import HoleRow
from exports.wording.figures import show_mm
from exports.wording.finish_words import show_edges, tell_flatness
from geom.features import Blank
from geom.frame import EDGES
from geom.standards import tables
from geom.words import capitalise, count_of, join_names
from layouts.faces import COVERS, cover_name, joints_of, material_of
from layouts.milling.frame import plane_of
from layouts.plan import Plan
from layouts.printing.process import is_printed
from layouts.strength.screw_hole import fit_screw
from layouts.tolerances.classes import form_class
from layouts.tolerances.screws import called_out_zone
from layouts.tolerances.seal import call_out_groove

INDENT = 4.0
"""What the second line of a note stands further in, [mm]."""


def show_material(plan: Plan, part: str) -> str:
    """Return what a part is made of and how, for the title block: "PMMA cast, sheet 20".

    Parameters
    ----------
    plan : Plan
    part : str
        Name of its blank.
    """
    blank = next(blank for blank in plan.detail.blanks if blank.name == part)
    how = "printed" if is_printed(plan.panel, part) else "sheet"
    return f"{material_of(plan.panel, part)}, {how}, thickness {show_mm(blank.z1 - blank.z0)}"


def list_notes(plan: Plan, blank: Blank, rows: Sequence[HoleRow]) -> tuple[str, ...]:
    """Return the notes on a part, a sentence or two each.

    Parameters
    ----------
    plan : Plan
    blank : Blank
    rows : sequence of HoleRow
        All holes of the part.
    """
    panel = plan.panel
    stem = blank.name.replace(" ", "-")
    row = tables.material(material_of(panel, blank.name))
    form = "" if form_class(panel) else "; no general tolerance of form is asked for"
    notes = [
        f"Drawn from {stem}.step. Where they differ, {stem}.step holds.",
        f"General tolerances ISO 2768-{panel.make.tolerance}{form}. All lengths in mm.",
    ]
    if joint_faces(plan, blank):
        notes += _list_joint(plan, blank)
    notes.append(_tell_edges(plan, blank, rows))
    ports = _count_threads(rows, "P")
    if ports:
        notes.append("Mouths of tapped ports chamfered 45° to the major diameter of the thread.")
    if plan.printed is not None and blank.name not in COVERS:
        shaped = any(roof.kind != "flat" for roof in plan.printed.roofs)
        roofs = "; the roofs of its channels are shaped for that" if shaped else ""
        notes.append(f"Print it {plan.printed.pose.name}{roofs}.")
    if is_printed(panel, blank.name):
        notes += _list_after_print(plan, ports, rows)
    elif row.kind == "plastic":
        off = [one for one in row.attacked_by if one]
        keep = f": keep {join_names(tuple(off))} off it" if off else ""
        notes.append(
            f"{row.name} cracks under stress{keep}; cut it with sharp tools, with air or clean water."
        )
    return (*notes, *explain_numbers(rows), *_tell_places(plan, blank, rows))


def block_notes(plan: Plan, blank: Blank, rows: Sequence[HoleRow], width: float) -> TextBlock:
    """Return the notes on a part as numbered lines no wider than `width`, [mm].

    Parameters
    ----------
    plan : Plan
    blank : Blank
    rows : sequence of HoleRow
        All holes of the part: what their numbers mean is told too.
    width : float
    """
    lines = tuple(
        line if k == 0 else f"    {line}"
        for number, note in enumerate(list_notes(plan, blank, rows), 1)
        for k, line in enumerate(wrap_text(f"{number}. {note}", width - INDENT))
    )
    return TextBlock(f"Notes on the {blank.name}", lines)


def _list_joint(plan: Plan, blank: Blank) -> list[str]:
    """Return what is asked of a part's joint faces, its grooves and the holes of the cover's screws."""
    panel, faces, covers = plan.panel, joint_faces(plan, blank), blank.name in COVERS
    layers = [layer for layer in joints_of(panel) if not covers or cover_name(layer) == blank.name]
    corded = any(plan.sealed.loops_of(layer) for layer in layers)
    if covers:
        named, kept = (
            f"Joint face (the {faces[0]}, not shown)",
            "it" if not corded else "it where a cord lies",
        )
    else:
        named = "Joint face (the back)" if len(faces) == 1 else "Joint faces (front and back)"
        kept = "a groove or its land" if corded else "the lands beside channels and tank"
    whole = "it" if len(faces) == 1 else "them"
    rough = f"Ra {show_mm(panel.drawing.roughness)} µm or finer"
    out = [
        f"{named} flat {tell_flatness(plan, layers)}, {rough}, no mark across {kept}; keep {whole} covered until "
        "assembly."
    ]
    if corded and not covers:
        out.append(
            f"Grooves {call_out_groove(tables.cord(panel.make.cord))}, see detail D. {tell_grooves(plan)}"
        )
    zone = called_out_zone(panel, plan.sealed)
    if zone is not None:
        other = "cover" if not covers else "body"
        out.append(
            f"Holes of the cover screws: position of each within Ø{show_mm(zone)}, here and in the {other}; or drill "
            "both in one clamping."
        )
    return out


def _tell_edges(plan: Plan, blank: Blank, rows: Sequence[HoleRow]) -> str:
    """Return how edges are broken, which of them not, and where no burr may be left."""
    covers, sharp = blank.name in COVERS, ""
    if joint_faces(plan, blank):
        if plan.sealed.loops and not covers:
            sharp = "; joint face and grooves stay unbroken, only freed of burrs"
        elif not plan.sealed.loops:
            sharp = "; edges of the joint face stay unbroken, only freed of burrs"
    wet = [*(["bores"] if rows else []), *(["channels"] if holds_channels(plan, blank) else [])]
    clean = f" No burr and no chip in {' and '.join(wet)}." if wet else ""
    return f"Edges broken {show_edges()}{sharp}.{clean}"


def holds_channels(plan: Plan, blank: Blank) -> bool:
    """Return whether channels are cut into a part where a tool reaches them."""
    return blank.name not in COVERS and plan.panel.make.closing != "one-piece"


def _tell_places(plan: Plan, blank: Blank, rows: Sequence[HoleRow]) -> tuple[str, ...]:
    """Return from which corner places are counted, and what they are in the frame of plan and report."""
    if not rows and not holds_channels(plan, blank):
        return ()
    edges = any(row.view.endswith(edge) for row in rows for edge in EDGES)
    plane = plane_of(blank, "front")
    (low_x, low_y), high_x = plane.low[:2], plane.high[0]
    up = "y" if low_y == 0.0 else f"y - {show_mm(low_y)}"
    said = ["Places are counted from the corner with the small circle: x to the right, y up"]
    if edges:
        said.append(
            "; of an edge x along it, y from the back towards the front, also where its view is turned"
        )
    said.append(".")
    frames = []
    if low_x != 0.0 or low_y != 0.0:
        frames.append(f"in the front view x = x - {show_mm(low_x)}, y = {up} of plan and report")
    if holds_channels(plan, blank) or any(row.view == f"{blank.name} back" for row in rows):
        more = "" if low_y == 0.0 else f", y = {up}"
        frames.append(f"in the back view x = {show_mm(high_x)} - x{more} of plan and report")
    if frames:
        said.append(f" {capitalise('; '.join(frames))}.")
    return ("".join(said),)


def _count_threads(rows: Sequence[HoleRow], letters: str) -> Counter[str]:
    """Return how many holes with numbers of some letters are tapped or take an insert, by what comes into them."""
    first = (row.callout.split(",")[0].split(" ↧")[0] for row in rows if row.number[0] in letters)
    return Counter(said for said in first if not said.startswith("Ø"))


def _list_after_print(plan: Plan, ports: Counter[str], rows: Sequence[HoleRow]) -> list[str]:
    """Return what is left to do after a print of a part."""
    panel, out = plan.panel, []
    done = "printed: run a fitting into each" if panel.printing.port_threads == "printed" else "tapped"
    if ports:
        said = join_names(tuple(f"{count} of {thread}" for thread, count in ports.items()))
        out.append(f"After printing: port threads {done}, {said}; bores drilled to size first.")
    for what, letters in (("cover screws", "ST"), ("the pump", "F"), ("the split's joint", "J")):
        for thread, count in _count_threads(rows, letters).items():
            holes = count_of(count, "hole")
            if thread.startswith("insert"):
                size = show_mm(fit_screw(panel).diameter)
                held = f"drilled to {size} and {thread} set flush or a little below"
            else:
                held = f"{thread} tapped"
            out.append(f"After printing: {holes} of {what} {held}.")
    if panel.make.closing != "one-piece":
        out.append("After printing: joint face and grooves made flat, on a plate or by a light cut.")
    return out
