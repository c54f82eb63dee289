"""Walls: planted ones are found to a micrometre with both names; a clean panel is clean."""

from __future__ import annotations

import pytest
from sample_detail import channel, make_panel, make_plate, ring_track

from geom.build import build_solids
from geom.features import Blank, Cylinder, Detail, Feature, Prism
from geom.measured import Wall
from geom.outline import outline_rectangle
from geom.tessellate import mesh_solid
from geom.walls import (
    ThinSpot,
    check_walls,
    explain_spots,
    find_thin_spots,
    measure_walls,
    ray_walls,
    thinnest,
)

WET, DRY = 2.5, 1.2


def bore(name: str, mouth, direction, length: float, radius: float, medium: str = "wet", **more) -> Feature:
    kind = "port" if medium == "wet" else "screw hole"
    return Feature(name, kind, medium, Cylinder(mouth, direction, length, radius), **more)


def cover(detail: Detail) -> Detail:
    """Return the detail with a 6 mm cover behind its plate: channels open on the joint face, not outside."""
    body = detail.blanks[0]
    return Detail((body, Blank("cover", body.loop, -6, 0)), detail.features, detail.inserts)


def skew_bores(t: float) -> tuple[Feature, ...]:
    return (
        bore("port low", (0, 30, 6), (1, 0, 0), 60, 3.0, opens=("left",)),
        bore("port high", (40, 60, 6 + 3 + t + 2.5), (0, -1, 0), 50, 2.5, opens=("top",)),
    )


def parallel_channels(t: float) -> tuple[Feature, ...]:
    return (
        channel("channel a", ((20, 20), (80, 20)), 0, 8),
        channel("channel b", ((20, 28 + t), (60, 28 + t), (60, 52)), 0, 6),
    )


def bore_over_channel(t: float) -> tuple[Feature, ...]:
    return (
        channel("channel a", ((40, 15), (40, 45)), 0, 6),
        bore("port", (0, 30, 6 + t + 4), (1, 0, 0), 70, 4.0, opens=("left",)),
    )


def screw_above_channel(t: float) -> tuple[Feature, ...]:
    return (
        channel("channel a", ((20, 30), (80, 30)), 0, 8),
        bore("screw", (50, 31, 20), (0, 0, -1), 12 - t, 1.65, "dry", opens=("front",)),
    )


def screw_beside_groove(t: float) -> tuple[Feature, ...]:
    return (
        Feature("groove", "groove", "dry", ring_track(40, 30, 12, 15, 0, 1.5)),
        bore("port", (40 + 15 + t + 2, 30, 20), (0, 0, -1), 20, 2.0, opens=("front",)),
    )


def chamfered_port_beside_channel(t: float) -> tuple[Feature, ...]:
    port = Cylinder((50, 30, 20), (0, 0, -1), 16, 5.0, 0.8)
    return (
        Feature("port", "port", "wet", port, opens=("front",)),
        channel("channel a", ((20, 30 + 5 + t + 4), (80, 30 + 5 + t + 4)), 0, 8),
    )


def channel_beside_edge(t: float) -> tuple[Feature, ...]:
    return (channel("channel a", ((20, 4 + t), (80, 4 + t)), 2.6, 8),)


PLANTED = {
    skew_bores: {"port low", "port high"},
    parallel_channels: {"channel a", "channel b"},
    bore_over_channel: {"channel a", "port"},
    screw_above_channel: {"channel a", "screw"},
    screw_beside_groove: {"groove", "port"},
    chamfered_port_beside_channel: {"port", "channel a"},
    channel_beside_edge: {"channel a", "outer bottom"},
}


@pytest.mark.parametrize("t", [0.80, 1.20, 2.00])
@pytest.mark.parametrize("plant", PLANTED, ids=lambda plant: plant.__name__)
def test_planted_wall_is_found_with_both_names(plant, t):
    detail = cover(make_plate(*plant(t)))
    walls = measure_walls(detail, build_solids(detail), WET, DRY)
    wall = thinnest(walls)
    assert wall is not None
    assert wall.thickness == pytest.approx(t, abs=1e-3)
    assert set(wall.between) == PLANTED[plant]
    apart = sum((p - q) ** 2 for p, q in zip(*wall.points, strict=True)) ** 0.5
    assert apart == pytest.approx(wall.thickness, abs=1e-6)
    findings = check_walls(walls)
    assert [f.code for f in findings] == ["wall.thin"]
    assert findings[0].value == wall.thickness
    assert all(name in findings[0].text for name in wall.between)


def test_clean_panel_has_no_finding():
    detail = make_panel()
    solids = build_solids(detail)
    walls = measure_walls(detail, solids, 2.0, DRY)
    meshes = {part.name: mesh_solid(part.solid) for part in solids.parts}
    spots = find_thin_spots(solids, meshes, walls, 2.0, DRY)
    assert check_walls(walls, spots) == ()
    wall = thinnest(walls)
    assert wall is not None
    assert wall.thickness == pytest.approx(2.2, abs=1e-3)


def test_wall_at_its_limit_is_no_finding_and_just_under_it_is():
    for t, codes in ((2.5, []), (2.4995, []), (2.498, ["wall.thin"])):
        detail = cover(make_plate(*parallel_channels(t)))
        walls = measure_walls(detail, build_solids(detail), WET, DRY)
        assert [f.code for f in check_walls(walls)] == codes


def test_edge_port_under_its_own_groove():
    """In 16 mm a bore of 11.8 mm leaves 2.1 mm a side; a groove of 1.9 mm leaves 0.2 mm of that."""
    detail = cover(
        make_plate(
            Feature("groove 1", "groove", "dry", ring_track(40, 30, 17.4, 20, 0, 1.9)),
            bore("port", (0, 30, 8), (1, 0, 0), 40, 5.9, opens=("left",)),
            size=(100, 60, 16),
        )
    )
    walls = measure_walls(detail, build_solids(detail), 2.0, DRY)
    assert walls[0].thickness == pytest.approx(0.2, abs=1e-3)
    assert set(walls[0].between) == {"groove 1", "port"}
    assert len(check_walls(walls)) == 1


@pytest.mark.parametrize(
    ("gap", "overlap", "word"), [(-0.5, True, "cut into each other"), (0.0, False, "touch")]
)
def test_breach_tells_overlap_from_touch(gap, overlap, word):
    a, b = parallel_channels(gap)
    detail = cover(make_plate(a, b))
    wall = measure_walls(detail, build_solids(detail), WET, DRY)[0]
    assert (wall.thickness, wall.overlap) == (0.0, overlap)
    finding = check_walls((wall,))[0]
    assert finding.code == "wall.breach"
    assert word in finding.text


def test_hole_wholly_inside_a_pocket_is_a_breach():
    detail = make_plate(
        channel("tank", ((30, 30), (70, 30)), 2, 14, width=40, bend=20),
        bore("screw", (50, 30, 12), (0, 0, -1), 6, 1.65, "dry"),
    )
    wall = measure_walls(detail, build_solids(detail), WET, DRY)[0]
    assert wall.overlap
    assert set(wall.between) == {"tank", "screw"}


def test_joined_features_and_opened_faces_are_no_walls():
    detail = make_plate(
        channel("channel", ((20, 30), (80, 30)), 0, 8),
        bore("port", (20, 30, 20), (0, 0, -1), 12, 4.0, joins=("channel",), opens=("front",)),
    )
    walls = measure_walls(detail, build_solids(detail), WET, DRY)
    assert not any(set(wall.between) in ({"channel", "port"}, {"port", "outer front"}) for wall in walls)
    # The channel itself lies open at z = 0 and does not say so.
    assert {"channel", "outer back"} in [set(wall.between) for wall in walls]


def pocket_with(depth: float, *features: Feature) -> Detail:
    """Return a pocket of 40 mm by 30 mm, cut from the joint face, with what opens into it."""
    shape = Prism((outline_rectangle(30, 15, 70, 45, 3),), 0, depth)
    return cover(make_plate(Feature("tank", "tank", "wet", shape), *features))


def test_what_ends_inside_one_pocket_has_no_wall_there():
    """A channel's end 1 mm before a bore's, both inside the pocket: coolant stands between them."""
    down = channel("channel a", ((50, 10), (50, 25)), 0, 8, joins=("tank",))
    fill = bore("fill", (50, 60, 9), (0, -1, 0), 60 - 30, 4.0, joins=("tank",), opens=("top",))
    detail = pocket_with(13, down, fill)
    walls = measure_walls(detail, build_solids(detail), WET, DRY)
    assert not [wall for wall in walls if set(wall.between) == {"channel a", "fill"}]
    assert check_walls(walls) == ()


def test_thinnest_wall_is_none_that_stands_in_a_pocket():
    down = channel("channel a", ((50, 10), (50, 24)), 0, 8, joins=("tank",))
    fill = bore("fill", (50, 60, 9), (0, -1, 0), 60 - 31.5, 4.0, joins=("tank",), opens=("top",))
    detail = pocket_with(13, down, fill)
    wall = thinnest(measure_walls(detail, build_solids(detail), WET, DRY))
    assert wall is None or set(wall.between) != {"channel a", "fill"}


def test_wall_beside_a_pocket_counts_between_what_opens_into_it():
    """Both enter by one side of the pocket, 1.5 mm apart outside it."""
    one = channel("channel a", ((45, 10), (45, 25)), 0, 8, joins=("tank",))
    two = channel("channel b", ((54.5, 10), (54.5, 25)), 0, 8, joins=("tank",))
    detail = pocket_with(13, one, two)
    walls = measure_walls(detail, build_solids(detail), WET, DRY)
    (wall,) = [wall for wall in walls if set(wall.between) == {"channel a", "channel b"}]
    assert wall.thickness == pytest.approx(1.5, abs=1e-3)
    assert all(y <= 15 + 1e-6 for _, y, _ in wall.points)


def test_web_under_a_pocket_counts_where_a_channel_is_deeper():
    """Below a pocket 6 mm deep, 1 mm of metal stands between the channel's end and the bore."""
    down = channel("channel a", ((50, 10), (50, 25)), 0, 8, joins=("tank",))
    fill = bore("fill", (50, 60, 9), (0, -1, 0), 60 - 30, 4.0, joins=("tank",), opens=("top",))
    detail = pocket_with(6, down, fill)
    (finding,) = check_walls(measure_walls(detail, build_solids(detail), WET, DRY))
    assert finding.code == "wall.thin"
    assert set(finding.features) == {"channel a", "fill"}
    assert finding.value == pytest.approx(1.0, abs=1e-3)
    assert finding.at_mm is not None
    assert finding.at_mm[2] > 6 - 1e-6


def test_joint_between_blanks_is_no_outer_face():
    outline = outline_rectangle(0, 0, 100, 60, 0)
    detail = Detail(
        (Blank("body", outline, 0, 20), Blank("cover", outline, -6, 0)),
        (channel("channel", ((20, 30), (80, 30)), 0, 8),),
        (),
    )
    assert check_walls(measure_walls(detail, build_solids(detail), WET, DRY)) == ()


def test_dry_pairs_have_their_own_limit():
    def pair(apart: float):
        detail = make_plate(
            bore("screw 1", (40, 30, 20), (0, 0, -1), 10, 2.0, "dry", opens=("front",)),
            bore("screw 2", (44 + apart, 30, 20), (0, 0, -1), 10, 2.0, "dry", opens=("front",)),
        )
        return measure_walls(detail, build_solids(detail), WET, DRY)

    assert check_walls(pair(1.5)) == ()
    finding = check_walls(pair(1.0))[0]
    assert (finding.code, finding.limit) == ("wall.thin", DRY)
    assert finding.value == pytest.approx(1.0, abs=1e-3)


def test_rounded_corner_of_the_plate_counts():
    outline = outline_rectangle(0, 0, 100, 60, 20)
    hole = bore("port", (8, 8, 20), (0, 0, -1), 10, 2.0, opens=("front",))
    detail = Detail((Blank("panel", outline, 0, 20),), (hole,), ())
    wall = thinnest(measure_walls(detail, build_solids(detail), WET, DRY))
    assert wall is not None
    assert wall.between == ("port", "outer corner")
    assert wall.thickness == pytest.approx(20 - 12 * 2**0.5 - 2, abs=1e-3)


def test_rays_find_a_channel_too_close_to_itself():
    hairpin = channel("channel", ((20, 20), (60, 20), (60, 28.8), (20, 28.8)), 0, 8, bend=4.4)
    detail = make_plate(hairpin)
    solids = build_solids(detail)
    meshes = {"panel": mesh_solid(solids.part("panel"))}
    walls = measure_walls(detail, solids, 2.0, DRY)
    spots = find_thin_spots(solids, meshes, walls, 2.0, DRY)
    assert [spot.between for spot in spots] == [("channel", "channel")]
    assert spots[0].thickness == pytest.approx(0.8, abs=0.02)
    finding = check_walls((), spots)[0]
    assert (finding.code, finding.severity, finding.features) == ("wall.rays", "caution", ("channel",))
    assert ray_walls(meshes["panel"], 2.0, seed=0) == ray_walls(meshes["panel"], 2.0, seed=0)


def test_rays_find_planted_walls_and_do_not_repeat_them():
    detail = make_plate(*parallel_channels(1.2))
    solids = build_solids(detail)
    mesh = mesh_solid(solids.part("panel"))
    spots = ray_walls(mesh, 2.0)
    assert spots[0].thickness == pytest.approx(1.2, abs=0.02)
    walls = measure_walls(detail, solids, 2.0, DRY)
    assert explain_spots(solids, spots, walls, 2.0, DRY) == ()
    unknown = explain_spots(solids, spots, (), 2.0, DRY)
    assert set(unknown[0].between) == {"channel a", "channel b"}


def test_rays_find_a_bore_close_under_the_joint_face():
    """The joint face has no name among the walls; a bore that nearly reaches it is for the eye."""
    detail = cover(make_plate(bore("port", (0, 30, 5), (1, 0, 0), 40, 4.0, opens=("left",))))
    solids = build_solids(detail)
    walls = measure_walls(detail, solids, 2.0, DRY)
    meshes = {part.name: mesh_solid(part.solid) for part in solids.parts}
    (spot,) = find_thin_spots(solids, meshes, walls, 2.0, DRY)
    assert set(spot.between) == {"port", "an outer or joint face"}
    assert spot.thickness == pytest.approx(1.0, abs=0.03)
    assert check_walls(walls, (spot,))[0].features == ("port",)


def test_rays_do_not_repeat_a_thin_outer_wall():
    detail = make_plate(*channel_beside_edge(0.8))
    solids = build_solids(detail)
    meshes = {"panel": mesh_solid(solids.part("panel"))}
    walls = measure_walls(detail, solids, 2.0, DRY)
    assert ray_walls(meshes["panel"], 2.0)
    assert find_thin_spots(solids, meshes, walls, 2.0, DRY) == ()


def test_rays_leave_the_tip_of_a_wedge_alone():
    """A round bore over a flat floor meets it at a slant; no wall, and the joint is meant."""
    detail = make_plate(
        channel("channel", ((20, 30), (80, 30)), 0, 8),
        bore("port", (0, 30, 11), (1, 0, 0), 40, 4.5, joins=("channel",), opens=("left",)),
    )
    solids = build_solids(detail)
    assert ray_walls(mesh_solid(solids.part("panel")), 0.5) == ()


def test_no_feature_has_no_wall():
    detail = make_plate(bore("screw", (50, 30, 20), (0, 0, -1), 5, 2.0, "dry", opens=("front",)))
    assert thinnest(measure_walls(detail, build_solids(detail), WET, DRY)) is None
    assert ThinSpot(1.0, ((0, 0, 0), (0, 0, 1)), 3).between == ("", "")


@pytest.mark.parametrize(("other", "cure"), [("groove 2", "thinner cord"), ("tank", "plate thicker")])
def test_a_thin_wall_to_a_groove_asks_for_a_thinner_cord(other, cure):
    wall = Wall(1.4, 2.0, ("port a", other), ((0.0, 0.0, 0.0), (0.0, 0.0, 1.4)), True)
    (finding,) = check_walls((wall,))
    assert cure in finding.remedy
