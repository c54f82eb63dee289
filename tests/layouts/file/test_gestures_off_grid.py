"""What stands off the grid stays there where no node is meant."""

from __future__ import annotations

from layouts.file.gestures import gesture_changes
from tests.layouts.replan.sample_edits import TWO_FACES, edit_demo, lay_demo, move


def test_a_tank_off_the_grid_moved_to_its_own_place_stays() -> None:
    panel, laid = lay_demo(TWO_FACES)
    box = laid.placement.box
    assert box is not None
    assert box[1] % panel.pitch
    for by in (0.0, 1.0, -2.4):
        to = (box[0], box[1] + by)
        changed = edit_demo(TWO_FACES, move("tank", to))
        assert changed.tank.at == box[:2]
        assert gesture_changes(changed, laid.routed, move("tank", to)) == ()
    assert edit_demo(TWO_FACES, move("tank", (box[0], box[1] + 4.0))).tank.at != box[:2]
