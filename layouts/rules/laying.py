"""How a part is brought into another pose: by keys of the file, or by hand."""

from __future__ import annotations

from dataclasses import dataclass, replace

from layouts.cures import Cure
from layouts.faces import cover_name, joints_of
from layouts.file_changes import set_key
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.printing.poses import choose_pose
from layouts.printing.printed import Printed
from layouts.printing.process import process_of
from layouts.printing.tried import PartPoses, TriedPose, pose_rank


@dataclass(frozen=True, slots=True)
class Laying:
    """What decides how a part is laid: the file's keys, and the plan's choice by them; `parts`: all that are laid."""

    panel: Panel
    routed: Routed
    printed: Printed
    parts: tuple[PartPoses, ...] = ()

    def cure(self, part: str, best: TriedPose) -> Cure:
        """Return how a part is brought into a pose: by keys that the plan follows, or by hand.

        Parameters
        ----------
        part : str
            The blank's name.
        best : TriedPose
        """
        covers = {cover_name(layer) for layer in joints_of(self.panel)}
        asked, pose = self.panel.printing, best.pose
        if part not in covers and not self._worsens_mate(part, best):
            tilts = (pose.tilt_deg,) if pose.tilt_deg else asked.tilts
            keyed = replace(self.panel, printing=replace(asked, lies_on=pose.lies_on, tilts=tilts))
            if choose_pose(keyed, self.routed, self.printed.split).up == pose.up:
                tilted = f' and tilts = ["{pose.tilt_deg:g} deg"]' if pose.tilt_deg else ""
                keys = [set_key(pose.lies_on, "printing", "lies_on")]
                if pose.tilt_deg:
                    keys.append(set_key([f"{pose.tilt_deg:g} deg"], "printing", "tilts"))
                return Cure(
                    f'print it {pose.name}: set lies_on = "{pose.lies_on}"{tilted} in [printing]', tuple(keys)
                )
        return Cure(f"turn its mesh in the slicer so that it lies {pose.name}")

    def _worsens_mate(self, part: str, best: TriedPose) -> bool:
        """Return whether the other piece of a split, which the keys lay alike, is worse in a pose than as it lies."""
        pieces = () if self.printed.split is None else self.printed.split.pieces
        bridge = process_of(self.panel).bridge
        for mate in self.parts:
            if part in pieces and mate.part in pieces and mate.part != part:
                alike = next((one for one in mate.tried if one.pose.up == best.pose.up), None)
                if alike is None or pose_rank(alike, bridge) > pose_rank(mate.made, bridge):
                    return True
        return False
