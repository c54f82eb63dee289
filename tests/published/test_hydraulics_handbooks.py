"""Ducts, bends, openings and tees against handbooks and correlations that the project does not use."""

from __future__ import annotations

import math

import fluids.fittings as fittings
import pytest
from fluids.friction import Churchill_1977
from printed import assert_as_printed

from layouts.hydraulics.area_changes import loss_contraction, loss_entrance, loss_exit, loss_expansion
from layouts.hydraulics.coolant import Coolant
from layouts.hydraulics.friction import entry_loss, friction_factor, kinetic_energy_factor, laminar_f_re
from layouts.hydraulics.losses import loss_bend, loss_sharp_bend
from layouts.hydraulics.segments import Bore, Straight, TankEntry, TankExit, drop_pa, reynolds, velocity
from layouts.hydraulics.tees import find_tee_drops

L_MIN = 1e-3 / 60
WATER = Coolant("water", 0.0, 25.0, 997.05, 997.05 * 0.8927e-6, 4181.3, 3169.9, 0.0)


def polynomial_f_re(aspect: float) -> float:
    """Return Darcy f times Re of a rectangular duct by the polynomial of Shah and London."""
    terms = (1.0, -1.3553, 1.9467, -1.7012, 0.9564, -0.2537)
    return 96 * sum(term * aspect**i for i, term in enumerate(terms))


@pytest.mark.published(
    source="Shah and London, Laminar Flow Forced Convection in Ducts (1978), rectangular ducts: K(infinity) "
    "(recalled, not verified)"
)
@pytest.mark.parametrize(
    ("aspect", "printed"),
    [(1.0, "1.5515"), (0.5, "1.3829"), (0.25, "1.0759"), (0.125, "0.8788"), (0.0, "0.6857")],
)
def test_entry_loss_of_rectangular_ducts(aspect, printed):
    assert_as_printed(entry_loss(aspect), printed)


@pytest.mark.published(
    source="White, Viscous Fluid Flow, equation 3-48, integrated apart: energy factor of the square duct 2.154, "
    "momentum factor 1.378"
)
def test_profile_of_the_square_duct():
    assert_as_printed(kinetic_energy_factor(1.0), "2.154")
    assert_as_printed(kinetic_energy_factor(1.0) - entry_loss(1.0) / 2, "1.378")
    assert_as_printed(loss_exit(1000.0, 1.0), "2.154")


@pytest.mark.published(
    source="Bruus, Theoretical Microfluidics (2008), equation 3.58: Q = h3 w dp / (12 mu L) (1 - 0.63 h / w), 0.2 % at "
    "h = w / 2, 13 % at h = w (recalled, not verified)"
)
@pytest.mark.parametrize(("aspect", "error"), [(0.05, 2e-3), (0.2, 2e-3), (0.5, 2.5e-3), (1.0, 0.135)])
def test_flow_in_a_slit(aspect, error):
    height, width, length, flow = 1e-3, 1e-3 / aspect, 0.5, 1e-8
    theirs = 12 * WATER.viscosity_pa_s * length * flow / (height**3 * width * (1 - 0.63 * aspect))
    ours = drop_pa(Straight(length, width, height), flow, WATER)
    assert ours == pytest.approx(theirs, rel=error)


@pytest.mark.published(source="Hagen and Poiseuille 1840: dp = 128 mu L Q / (pi d4) in a round tube")
@pytest.mark.parametrize("diameter", [0.001, 0.004, 0.010])
def test_flow_in_a_fine_tube(diameter):
    flow = 200 * math.pi / 4 * diameter * WATER.viscosity_pa_s / WATER.density_kg_m3
    bore = Bore(0.3, diameter)
    assert reynolds(bore, flow, WATER) == pytest.approx(200.0)
    theirs = 128 * WATER.viscosity_pa_s * 0.3 * flow / (math.pi * diameter**4)
    assert drop_pa(bore, flow, WATER) == pytest.approx(theirs, rel=1e-9)


@pytest.mark.published(
    source="Takeishi et al., J. Fluid Mech. 782 (2015): no turbulence lives in a square duct below Re 1460, at an "
    "aspect of 1 to 5 below 2230"
)
@pytest.mark.parametrize(("aspect", "re"), [(1.0, 1460.0), (0.2, 2230.0)])
def test_laminar_as_long_as_no_turbulence_lives(aspect, re):
    for share in (0.2, 0.6, 1.0):
        assert friction_factor(share * re, aspect) * share * re == pytest.approx(
            laminar_f_re(aspect), rel=0.005
        )


@pytest.mark.published(
    source="Churchill 1977 by the library fluids, at the Reynolds number of Jones 1976 with the polynomial of Shah and "
    "London; 0.3 %"
)
@pytest.mark.parametrize(
    ("re", "square", "half", "quarter"),
    [
        (100, "0.56908", "0.62192", "0.72931"),
        (1000, "0.05691", "0.06219", "0.07293"),
        (2000, "0.03027", "0.03121", "0.03647"),
        (3000, "0.04267", "0.04315", "0.03825"),
        (5000, "0.03657", "0.03756", "0.03944"),
        (10_000, "0.03002", "0.03076", "0.03215"),
        (20_000, "0.02509", "0.02565", "0.02671"),
    ],
)
def test_rectangular_ducts_through_all_regimes(re, square, half, quarter):
    for aspect, printed in ((1.0, square), (0.5, half), (0.25, quarter)):
        assert_as_printed(friction_factor(float(re), aspect), printed, rel=1e-4)
        theirs = Churchill_1977(re * 64 / polynomial_f_re(aspect), 0.0)
        # Where the flow changes over the factor goes with the fifth power of the Reynolds number.
        assert friction_factor(float(re), aspect) == pytest.approx(theirs, rel=3e-3)


@pytest.mark.published(
    source="Churchill 1977 by the library fluids in panel-sized channels, water 25 °C: drop per metre; 1 %"
)
@pytest.mark.parametrize(
    ("width", "depth", "flow", "speed", "re", "printed"),
    [
        (6, 6, 4, "1.852", "12447", "8069"),
        (8, 6, 4, "1.389", "10669", "4157"),
        (8, 8, 4, "1.042", "9335", "2068"),
        (8, 6, 2, None, "5334", "1264"),
    ],
)
def test_panel_sized_channels(width, depth, flow, speed, re, printed):
    channel = Straight(1.0, width * 1e-3, depth * 1e-3)
    if speed is not None:
        assert_as_printed(velocity(channel, flow * L_MIN), speed)
    assert_as_printed(reynolds(channel, flow * L_MIN, WATER), re)
    drop = drop_pa(channel, flow * L_MIN, WATER)
    assert_as_printed(drop, printed, rel=1e-3)
    number = float(re)
    factor = Churchill_1977(number * 64 / polynomial_f_re(min(width, depth) / max(width, depth)), 0.0)
    head = 0.5 * WATER.density_kg_m3 * velocity(channel, flow * L_MIN) ** 2
    across = 2 * width * depth / (width + depth) * 1e-3
    assert drop == pytest.approx(factor / across * head, rel=0.01)


def petukhov(re: float) -> float:
    return (0.790 * math.log(re) - 1.64) ** -2


@pytest.mark.published(
    source="Petukhov 1970, f = (0.790 ln Re - 1.64)^-2, smooth pipe, Re 3000 to 5e6 (Incropera and DeWitt, equation "
    "8.21; recalled, not verified); 3 %"
)
@pytest.mark.parametrize("re", [5e3, 1e4, 3e4, 1e5, 1e6])
def test_smooth_pipe_after_petukhov(re):
    assert friction_factor(re) == pytest.approx(petukhov(re), rel=0.03)


@pytest.mark.published(
    source="Bhatti and Shah, Handbook of Single-Phase Convective Heat Transfer (1987): rectangular ducts 1.0875 - "
    "0.1125 aspect times the pipe's f, 5 % (recalled, not verified); 8 %, the band that is stated"
)
@pytest.mark.parametrize("aspect", [0.1, 0.25, 0.5, 0.75, 1.0])
@pytest.mark.parametrize("re", [5e3, 1e4, 3e4, 1e5])
def test_turbulent_rectangular_ducts(aspect, re):
    assert friction_factor(re, aspect) == pytest.approx((1.0875 - 0.1125 * aspect) * petukhov(re), rel=0.08)


@pytest.mark.published(
    source="ASHRAE Handbook Fundamentals 1989, mitred rectangular elbow of 90 degrees, by height over width, at "
    "Re above 1.4e5"
)
@pytest.mark.parametrize(
    ("depth_ratio", "printed"),
    [
        (0.25, "1.3"),
        (0.5, "1.3"),
        (0.75, "1.2"),
        (1.0, "1.2"),
        (1.5, "1.1"),
        (2.0, "1.1"),
        (3.0, "0.98"),
        (4.0, "0.92"),
        (5.0, "0.89"),
        (6.0, "0.85"),
        (8.0, "0.83"),
    ],
)
def test_mitred_elbow_by_depth(depth_ratio, printed):
    assert_as_printed(loss_sharp_bend(2e5, depth_ratio), printed)


@pytest.mark.published(
    source="ASHRAE Handbook Fundamentals 1989, mitred rectangular elbow: Reynolds factor 1.40, 1.26, 1.19, 1.14, 1.09, "
    "1.06, 1.04, 1.0"
)
@pytest.mark.parametrize(
    ("re", "printed"),
    [(1e4, "1.40"), (2e4, "1.26"), (3e4, "1.19"), (4e4, "1.14"), (6e4, "1.09"), (8e4, "1.06"), (1e5, "1.04")],
)
def test_mitred_elbow_by_reynolds_number(re, printed):
    assert_as_printed(loss_sharp_bend(re) / loss_sharp_bend(1.4e5), printed)


@pytest.mark.published(
    source="Rennels and Hudson 2012, and Miller 1990, mitre bend of 90 degrees in round pipe (library fluids); 15 %"
)
@pytest.mark.parametrize(
    ("method", "re"), [("Rennels", 2e5), ("Miller", 1e5), ("Miller", 1e4), ("Miller", 2e4)]
)
def test_sharp_bend_after_pipe_handbooks(method, re):
    theirs = fittings.bend_miter(angle=90, Di=0.008, Re=re, roughness=1e-6, method=method)
    assert loss_bend(re, 0.0) == pytest.approx(theirs, rel=0.15)


@pytest.mark.published(
    source="Crane TP-410 (60 fT) and Darby's 3-K method, mitre bend of 90 degrees, small pipe (library fluids); 25 %"
)
def test_sharp_bend_after_fitting_methods():
    crane = fittings.bend_miter(angle=90, Di=0.008, method="Crane")
    assert_as_printed(crane, "1.86")
    assert loss_sharp_bend(1e4) == pytest.approx(crane, rel=0.25)
    for re, printed in ((1e4, "2.01"), (2e3, "2.41")):
        darby = fittings.Darby3K(NPS=0.25, Re=re, name="Elbow, 90°, mitered, 1 weld, (90°)")
        assert_as_printed(darby, printed)
        assert loss_sharp_bend(re) == pytest.approx(darby, rel=0.25)


@pytest.mark.published(
    source="Idelchik 2006, diagram 6-7, as in the Modelica library FluidDissipation, upper bound; Hooper's 2-K "
    "constants without the size term, lower bound"
)
@pytest.mark.parametrize(("re", "printed"), [(1e3, "5.26"), (2e3, "4.39"), (1e4, "2.87"), (2e4, "2.39")])
def test_sharp_bend_between_the_sources(re, printed):
    s = math.sin(math.pi / 4)
    upper = (0.95 + 33.5 / 90) * (0.95 * s**2 + 2.05 * s**4) * 24.8 / re**0.263
    assert_as_printed(upper, printed, rel=5e-3)
    assert 1000 / re + 1.15 < loss_bend(re, 0.0) < upper


@pytest.mark.published(
    source="Sharp flush entrance by the library fluids: four sources 0.50, Miller 0.509; 2 %"
)
@pytest.mark.parametrize("method", ["Swamee", "Blevins", "Idelchik", "Crane", "Miller"])
def test_entrance_of_every_source(method):
    assert loss_entrance(2e4, 1.0) == pytest.approx(fittings.entrance_sharp(method), rel=0.02)


@pytest.mark.published(
    source="Rennels and Hudson, Pipe Flow (2012): sharp flush entrance 0.57; within its band of 15 %"
)
def test_entrance_after_rennels():
    assert loss_entrance(2e4, None) == pytest.approx(fittings.entrance_sharp("Rennels"), rel=0.15)


@pytest.mark.published(
    source="Crane TP-410: entrance 0.5 and exit 1.0 on the velocity head, by the library fluids"
)
@pytest.mark.parametrize("flow_l_min", [8.0, 12.0])
def test_openings_of_the_tank_in_pascals(flow_l_min):
    width, depth = 0.010, 0.009
    head = 0.5 * WATER.density_kg_m3 * (flow_l_min * L_MIN / (width * depth)) ** 2
    opening, mouth = TankExit(width, depth), TankEntry(width, depth)
    assert drop_pa(opening, flow_l_min * L_MIN, WATER) == pytest.approx(
        fittings.entrance_sharp("Crane") * head
    )
    assert drop_pa(mouth, flow_l_min * L_MIN, WATER) == pytest.approx(fittings.exit_normal() * head)


@pytest.mark.published(
    source="Hooper 1988 (library fluids), White's 0.42 (1 - b2), Idelchik's 0.5 (1 - b2)^0.75 (recalled): sudden "
    "contraction; within its band of 30 %"
)
@pytest.mark.parametrize(("beta", "hooper", "white"), [(0.5, "0.461", "0.315"), (0.75, "0.269", "0.184")])
def test_contraction_of_every_source(beta, hooper, white):
    ours = loss_contraction(beta**2)
    library = fittings.contraction_sharp(Di1=1.0, Di2=beta, Re=1e4, fd=0.03, method="Hooper")
    assert_as_printed(library, hooper)
    assert_as_printed(0.42 * (1 - beta**2), white)
    for theirs in (library, 0.42 * (1 - beta**2), 0.5 * (1 - beta**2) ** 0.75):
        assert ours == pytest.approx(theirs, rel=0.30)


@pytest.mark.published(
    source="Momentum and energy over a sudden expansion: an opening into a vast room loses the head"
)
def test_expansion_at_its_ends():
    assert loss_expansion(0.0) == loss_exit(2e4, None) == 1.0
    assert loss_expansion(1.0) == loss_contraction(1.0) == 0.0
    assert loss_contraction(0.0) == loss_entrance(2e4, None)


SHARES = [0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9]


@pytest.mark.published(source="Crane TP-410, tees of equal legs, signs and size by the library fluids; 2 %")
@pytest.mark.parametrize("share", SHARES)
@pytest.mark.parametrize("speed", [0.3, 2.0])
def test_tee_in_either_direction(share, speed):
    legs = {"D_run": 0.008, "D_branch": 0.008, "Q_run": 1.0 - share, "Q_branch": share}
    combined, run, branch = speed, -(1 - share) * speed, -share * speed
    on_run, on_branch = find_tee_drops(combined, run, branch)
    assert -on_run == pytest.approx(fittings.K_run_diverging_Crane(**legs) * speed**2, rel=0.02, abs=1e-9)
    assert -on_branch == pytest.approx(fittings.K_branch_diverging_Crane(**legs) * speed**2, rel=0.02)
    on_run, on_branch = find_tee_drops(-combined, -run, -branch)
    assert on_run == pytest.approx(fittings.K_run_converging_Crane(**legs) * speed**2, rel=0.02)
    assert on_branch == pytest.approx(
        fittings.K_branch_converging_Crane(**legs) * speed**2, rel=0.02, abs=1e-9
    )


@pytest.mark.published(
    source="Second law: a tee as a whole takes power from the streams, though one of them may gain"
)
@pytest.mark.parametrize("legs", [(1.0, -1.0, 0.0), (1.0, 0.0, -1.0), (0.0, 1.0, -1.0)], ids=str)
def test_tee_as_a_whole_never_gives_power(legs):
    """Every split of the flow, every leg in turn the one with the whole flow, either way."""
    for turn in range(3):
        for share in [i / 200 for i in range(201)]:
            for sign in (1.0, -1.0):
                flows = [sign, -sign * share, -sign * (1 - share)]
                flows = flows[turn:] + flows[:turn]
                on_run, on_branch = find_tee_drops(*flows)
                # Power brought to the tee, combined leg at 0: flow towards it times pressure there.
                assert flows[1] * on_run + flows[2] * on_branch >= -1e-9, (flows, on_run, on_branch)
