"""Channels with shaped roofs: closed forms, exact faces, one skin however runs, bores and roofs meet."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.build import Solids, build_solids, make_solid
from geom.errors import GeometryError
from geom.features import Blank, Cylinder, Detail, Feature, Prism, Vault, VaultProfile
from geom.kernel import find_volume
from geom.outline import Loop, outline_rectangle, outline_route
from geom.printing.overhangs import measure_pose
from geom.printing.part_skin import survey_skin
from geom.rebuild import rebuild_features
from geom.skins import check_meshes
from geom.tessellate import mesh_solid
from geom.vault import inset_at, run_volume, vault_volume
from geom.volume import check_pieces, check_volumes, measure_volumes
from geom.walls import measure_walls

PROFILES: tuple[VaultProfile, ...] = ("pointed", "round")
BODY = 30.0
BRIDGE = 10.0


def straight(width: float, length: float) -> Loop:
    return outline_route(((20.0, 40.0), (20.0 + length, 40.0)), 14.0, width)


def vault_over(
    region: tuple[Loop, ...], width: float, depth: float, left: float, profile: VaultProfile, up: bool = True
) -> Vault:
    """Return a roof that leaves `left` flat at 45 degrees, over a section of `width` x `depth` about mid-thickness."""
    inset = (width - left) / 2
    if profile == "round":
        inset /= 1.0 - math.sqrt(0.5)
    lost = inset**2 * (1.0 if profile == "pointed" else 2.0 - math.pi / 2)
    low, high = (BODY - depth) / 2, (BODY + depth) / 2
    higher = lost / width
    return Vault(
        region, low - (0.0 if up else higher), high + (higher if up else 0.0), inset, inset, profile, up
    )


def revolve_half(width: float, vault: Vault) -> float:
    """Return the volume of half of the section turned once about its middle: that of both round ends."""
    outer, inner, s = width / 2, width / 2 - vault.inset, vault.rise
    upright = math.pi * outer**2 * (vault.z1 - vault.z0 - s)
    if vault.profile == "pointed":
        return upright + math.pi * s / 3 * (outer**2 + outer * inner + inner**2)
    # Discs of radius inner + sqrt(s2 - z2).
    return upright + math.pi * (inner**2 * s + math.pi / 2 * inner * s**2 + 2 / 3 * s**3)


@given(
    width=st.floats(10.5, 24.0),
    share=st.floats(0.72, 0.97),
    profile=st.sampled_from(PROFILES),
    up=st.booleans(),
)
@settings(max_examples=20, deadline=None)
def test_straight_channel_is_its_section_along_its_middle_and_turned_at_its_ends(
    width: float, share: float, profile: VaultProfile, up: bool
) -> None:
    """Section kept: the straight between the ends holds width times depth times its length."""
    vault = vault_over((straight(width, 60.0),), width, 16.0, share * width, profile, up)
    expected = width * 16.0 * 60.0 + revolve_half(width, vault)
    assert run_volume(vault, vault.region[0]) == pytest.approx(expected, rel=1e-12)
    assert find_volume(make_solid("channel", vault)) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize(("profile", "surface"), [("pointed", "CONE"), ("round", "TORUS")])
def test_bends_are_exact_surfaces_of_pappus_volume(profile: VaultProfile, surface: str) -> None:
    """A quarter bend holds the section times its middle's length: the section is symmetric about it."""
    legs = ((20.0, 20.0), (70.0, 20.0), (70.0, 60.0))
    vault = vault_over((outline_route(legs, 15.0, 12.0),), 12.0, 12.0, 9.85, profile)
    middle = 50.0 + 40.0 - 2 * 15.0 + math.pi / 2 * 15.0
    solid = make_solid("channel", vault)
    assert find_volume(solid) == pytest.approx(12.0 * 12.0 * middle + revolve_half(12.0, vault), rel=1e-8)
    kinds = {face.geomType() for face in solid.Faces()}
    assert kinds == {"PLANE", "CYLINDER", surface}


def test_inset_follows_its_profile() -> None:
    region = (straight(12.0, 40.0),)
    pointed, turned = (Vault(region, 0.0, 10.0, 2.0, 2.0, profile, False) for profile in PROFILES)
    assert [inset_at(pointed, z) for z in (0.0, 1.0, 2.0, 9.0)] == [2.0, 1.0, 0.0, 0.0]
    assert inset_at(turned, 1.0) == pytest.approx(2.0 - math.sqrt(3.0))


def tee_panel(
    width: float, depth: float, profile: VaultProfile, up: bool, turn: float, bore: float
) -> Detail:
    """Return a panel with a T of two runs, an edge port along one and bores from both faces at round ends."""
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))

    def place(x: float, y: float) -> tuple[float, float]:
        return 110.0 + c * x - s * y, 110.0 + s * x + c * y

    radius = max(14.0, width / 2 + 2)
    corners = [place(*p) for p in ((-60, -40), (0, -40), (40, -40), (40, 40))]
    main = outline_route(tuple(corners), radius, width)
    branch = outline_route((place(0, 40), place(0, -40 + width / 4)), radius, width)
    vault = vault_over((main, branch), width, depth, 7.85, profile, up)
    reach = 50.0 - width / 4
    mouth = (*place(-60 - reach, -40), BODY / 2)
    joins = ("channel",)
    features = (
        Feature("channel", "channel", "wet", vault, region="all"),
        Feature(
            "outlet",
            "pump bore",
            "wet",
            Cylinder((*place(0, 40), BODY), (0.0, 0.0, -1.0), BODY / 2, bore),
            joins,
            ("front",),
            "all",
        ),
        Feature(
            "back port",
            "port",
            "wet",
            Cylinder((*place(40, 40), 0.0), (0.0, 0.0, 1.0), BODY / 2, 5.9, 0.8),
            joins,
            ("back",),
            "all",
        ),
        Feature(
            "edge port",
            "port",
            "wet",
            Cylinder(mouth, (c, s, 0.0), 50.0, 5.9),
            joins,
            ("left",),
            "all",
        ),
    )
    return Detail((Blank("panel", outline_rectangle(0, 0, 220, 220, 5), 0.0, BODY),), features, ())


@pytest.mark.parametrize(
    ("width", "depth", "profile", "turn", "bore", "up"),
    [
        (10.0, 10.0, "round", 17.0, 5.0, False),
        # The bore's rim lies on that of the flat rest.
        (12.0, 10.0, "pointed", 0.0, 7.85 / 2, True),
        (18.0, 12.0, "pointed", 30.0, 5.0, True),
    ],
)
def test_panel_with_a_tee_is_one_skin_with_one_volume(
    width: float, depth: float, profile: VaultProfile, turn: float, bore: float, up: bool
) -> None:
    detail = tee_panel(width, depth, profile, up, turn, bore)
    solids = build_solids(detail)
    body, wet = mesh_solid(solids.part("panel")), mesh_solid(solids.wet)
    volumes = measure_volumes(detail, solids, {"panel": body}, wet)
    assert check_volumes(volumes) == ()
    assert volumes.wet_plan == pytest.approx(volumes.wet_solid, rel=1e-6)
    assert check_pieces(solids, 1) == ()
    shapes = {"panel": solids.part("panel"), "coolant": solids.wet}
    assert check_meshes({"panel": body, "coolant": wet}, shapes) == ()
    kinds = {face.geomType() for face in solids.part("panel").Faces()}
    assert kinds <= {"PLANE", "CYLINDER", "CONE", "TORUS"}
    roofs = measure_pose(
        survey_skin(body, wet), (0.0, 0.0, 1.0 if up else -1.0), 45.0, BRIDGE, 0.45, 0.2
    ).roofs
    assert max(roof.span for roof in roofs if roof.inside) <= BRIDGE


def test_flat_roof_of_the_same_channel_is_too_wide() -> None:
    """The measure sees what the shape cures."""
    detail = tee_panel(14.0, 12.0, "pointed", True, 0.0, 5.0)
    vault = detail.features[0].shape
    assert isinstance(vault, Vault)
    flat = Feature("channel", "channel", "wet", Prism(vault.region, 9.0, 21.0), region="all")
    solids = build_solids(Detail(detail.blanks, (flat, *detail.features[1:]), ()))
    body, wet = mesh_solid(solids.part("panel")), mesh_solid(solids.wet)
    roofs = measure_pose(survey_skin(body, wet), (0.0, 0.0, 1.0), 45.0, BRIDGE, 0.45, 0.2).roofs
    assert max(roof.span for roof in roofs if roof.inside) == pytest.approx(1.25 * 14.0, abs=0.1)


@pytest.fixture(scope="module")
def beside() -> tuple[Detail, Solids]:
    """Return a roofed channel with a level bore beside it, at the height of its slope."""
    vault = Vault((straight(14.0, 60.0),), 10.0, 20.0, 2.0, 2.0, "pointed")
    channel = Feature("channel", "channel", "wet", vault, region="all")
    bore = Feature(
        "bore",
        "pump bore",
        "wet",
        Cylinder((0.0, 52.0, 19.0), (1.0, 0.0, 0.0), 90.0, 2.0),
        opens=("left",),
        region="b",
    )
    blank = Blank("panel", outline_rectangle(0, 0, 100, 80, 5), 0.0, BODY)
    detail = Detail((blank,), (channel, bore), ())
    return detail, build_solids(detail)


def test_walls_are_measured_to_the_slope(beside: tuple[Detail, Solids]) -> None:
    """Distance of the bore's axis from the line of the slope less its radius, and from the top to the front."""
    detail, solids = beside
    walls = {wall.between: wall.thickness for wall in measure_walls(detail, solids, 12.0, 1.0)}
    # The slope goes from (47, 18) to (45, 20): its line is y + z = 65; the foot lies below its lower end.
    assert walls["channel", "bore"] == pytest.approx(math.hypot(52.0 - 47.0, 19.0 - 18.0) - 2.0, abs=1e-3)
    assert walls["channel", "outer front"] == pytest.approx(10.0, abs=1e-6)


@pytest.mark.parametrize("up", [True, False])
def test_rebuilt_channel_has_the_volume_of_its_solid(up: bool) -> None:
    run = outline_route(((20.0, 20.0), (70.0, 20.0), (70.0, 60.0)), 15.0, 12.0)
    vault = vault_over((run,), 12.0, 10.0, 9.0, "round", up)
    blank = Blank("panel", outline_rectangle(0, 0, 100, 80, 5), 0.0, BODY)
    detail = Detail((blank,), (Feature("channel", "channel", "wet", vault, region="all"),), ())
    (piece,) = rebuild_features(build_solids(detail))["channel"]
    assert piece.volume() == pytest.approx(vault_volume(vault), rel=1e-4)


@pytest.mark.parametrize(
    ("inset", "rise", "profile"), [(2.0, 12.0, "pointed"), (0.0, 2.0, "pointed"), (2.0, 3.0, "round")]
)
def test_roof_that_makes_no_shape_is_refused(inset: float, rise: float, profile: VaultProfile) -> None:
    vault = Vault((straight(12.0, 40.0),), 0.0, 10.0, inset, rise, profile)
    with pytest.raises(GeometryError, match="channel"):
        make_solid("channel", vault)
