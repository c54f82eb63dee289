"""Remedies for panels without a layout, as edits of their files: the edited file is routed."""

from dataclasses import replace
from itertools import islice

import pytest

from geom.errors import LayoutError
from geom.findings import KeyChange
from layouts.explain import explain_failure
from layouts.file.edit import edit_text
from layouts.file.read import parse_panel
from layouts.ground import survey_panel
from layouts.no_place import has_place
from layouts.panels.catalogue import demo_path
from layouts.place_bounds import find_placements
from layouts.remedies import (
    Found,
    Trials,
    add_layer,
    change_order,
    move_ports,
    narrow_channels,
    share_groove,
    thin_cord,
    thin_walls,
    tighten_bends,
)
from layouts.route import route_panel
from layouts.routing.all_channels.route_instance import route_instance
from layouts.routing.effort import QUICK
from layouts.terrain import lay_terrain

LASER, NEW = (demo_path(name).read_text() for name in ("laser-driver", "new"))


def read(text):
    return parse_panel(text.encode(), "panel.toml")


def put_walls(text, low, high):
    """Return a file with a wall from edge to edge that leaves one gap."""
    boxes = {"lower wall": (72, 0, 75, low), "upper wall": (72, high, 75, 120)}
    regions = [{"name": name, "box": [f"{side} mm" for side in box]} for name, box in boxes.items()]
    return edit_text(text, [KeyChange(("keep_clear",), regions)])


def fail(text, kind, most=60):
    """Return the failure of the first place that fails for a kind of reason."""
    panel = read(text)
    for placement in islice(find_placements(survey_panel(panel)), most):

        def lay(changed, placement=placement):
            return lay_terrain(survey_panel(changed), placement)

        terrain = lay(panel)
        routing = route_instance(terrain.instance, 0, 0, 1)
        if routing.conflicting and not routing.unreachable:
            failure = explain_failure(panel, terrain, routing, lay)
            if failure.kind == kind:
                return failure
    raise AssertionError(f"no place of {most} fails as {kind}")


def route(text):
    """Return how the routing of a file ends: "routed", or what kind of failure there is."""
    try:
        route_panel(read(text), effort=QUICK)
    except LayoutError as error:
        return error.failure.kind
    return "routed"


def test_a_gap_too_narrow_is_widened_in_the_file():
    text = put_walls(LASER, 50, 72)
    failure = fail(text, "narrow")
    works = [remedy for remedy in failure.remedies if remedy.works]
    assert all(remedy.changes for remedy in works)
    regions = [remedy for remedy in works if "keep-clear region" in remedy.text]
    assert regions
    # Whether what is routed keeps all distances too, no remedy is tried for.
    ends = [route(edit_text(text, remedy.changes)) for remedy in works]
    assert set(ends) <= {"routed", "refused"}
    assert ends.count("routed") >= 2


CLAMP = {"name": "clamp", "box": ["84 mm", "64 mm", "148 mm", "65 mm"]}
SMALL = ["120 mm", "8 mm", "160 mm", "60 mm"]


@pytest.mark.parametrize(
    "changes",
    [
        [KeyChange(("keep_clear",), [CLAMP])],
        [KeyChange(("pump", "within"), SMALL), KeyChange(("pump", "turns"), ["0 deg"])],
        [KeyChange(("pump", "within"), None), KeyChange(("pump", "at"), ["115 mm", "60 mm"])],
    ],
    ids=["clamp", "small box", "fixed"],
)
def test_pump_and_tank_get_a_place_by_an_edit_of_the_file(changes):
    text = edit_text(LASER, changes)
    with pytest.raises(LayoutError, match="no place for the pump under the tank") as caught:
        next(find_placements(survey_panel(read(text))))
    works = [remedy for remedy in caught.value.failure.remedies if remedy.works]
    assert works
    for remedy in works:
        assert remedy.changes
        assert has_place(survey_panel(read(edit_text(text, remedy.changes))))


class Answers(Trials):
    """Trials in which a changed panel is routed, and all ports come to stand at one place."""

    def __init__(self, at=(30.0, 20.0)) -> None:
        super().__init__(lambda panel: None, 50)
        self.at = at

    def route(self, panel):
        ports = (port for part in panel.parts for port in (part.inlet, part.outlet))
        return Found({port.name: self.at for port in ports})


def list_told(panel):
    """Return every remedy there is, as if each first trial helped."""
    trials, names = Answers(), ("radiator - tank",)
    yield from narrow_channels(panel, trials, names)
    yield from thin_walls(panel, trials)
    yield from tighten_bends(panel, trials)
    yield from add_layer(panel, trials)
    yield from share_groove(panel, trials)
    yield from thin_cord(panel, trials)
    yield from change_order(panel, trials, names)
    yield from move_ports(panel, trials, (panel.parts[0].inlet,))


def test_remedies_change_the_keys_that_they_name():
    told = {change.path: change.value for remedy in list_told(read(NEW)) for change in remedy.changes}
    assert told == {
        ("channel", "width"): "7.5 mm",
        ("rules", "least_wall"): "1.75 mm",
        ("channel", "bend_radius"): "14 mm",
        ("channel", "layers"): 2,
        ("make", "share_groove"): True,
        ("make", "cord"): "1.78 mm",
        ("loop", "order"): ["tank", "pump", "radiator", "cold plate", "tank"],
        ("part", 0, "inlet", "at"): ["30 mm", "20 mm"],
    }


def test_a_free_port_is_fixed_where_it_came_to_stand():
    panel = read(NEW)
    (moved,) = move_ports(panel, Answers(), (panel.parts[0].outlet,))
    assert [change.path[-1] for change in moved.changes] == ["within", "at"]
    port = read(edit_text(NEW, moved.changes)).parts[0].outlet
    assert (port.at, port.within) == ((30.0, 20.0), None)


def test_what_the_file_would_refuse_is_told_and_not_offered():
    # On no node of the grid.
    panel = read(NEW)
    (moved,) = move_ports(panel, Answers((31.0, 20.0)), (panel.parts[0].outlet,))
    assert moved.works
    assert moved.changes == ()
    assert all(remedy.changes == () for remedy in list_told(replace(panel, document={})))
