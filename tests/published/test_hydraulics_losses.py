"""Losses of bends, area changes, entrances, exits and tees against handbooks and measurements."""

import math

import pytest
from fluids.fittings import (
    K_branch_converging_Crane,
    K_branch_diverging_Crane,
    K_run_converging_Crane,
    K_run_diverging_Crane,
    bend_miter,
    bend_rounded,
    contraction_sharp,
    diffuser_sharp,
    entrance_sharp,
)
from printed import assert_as_printed

from layouts.hydraulics.area_changes import loss_contraction, loss_entrance, loss_exit, loss_expansion
from layouts.hydraulics.friction import friction_factor
from layouts.hydraulics.losses import loss_bend, loss_round_bend, loss_sharp_bend
from layouts.hydraulics.tees import loss_opposed_tee, loss_tee

ASHRAE = "ASHRAE Handbook Fundamentals 1989, mitred rectangular elbow of 90 degrees"
CRANE = "Crane, Technical Paper 410, tees of equal legs at 90 degrees"


@pytest.mark.published(source=ASHRAE)
@pytest.mark.parametrize(("re", "printed"), [(1e4, "1.68"), (2e4, "1.51"), (3e4, "1.43"), (1.4e5, "1.20")])
def test_sharp_square_bend(re, printed):
    assert_as_printed(loss_sharp_bend(re), printed)


@pytest.mark.published(source=ASHRAE + "; tolerance 15 %")
@pytest.mark.parametrize(("re", "printed"), [(1e4, "1.68"), (2e4, "1.51"), (3e4, "1.43"), (1e5, "1.25")])
def test_table_of_sharp_bends_meets_the_handbook(re, printed):
    assert_as_printed(loss_bend(re, 0.0), printed, rel=0.15)


@pytest.mark.published(
    source="Idelchik, Handbook of Hydraulic Resistance: square elbow 1.19 C1, C1 1.10 to 0.70 (recalled), 2 %"
)
@pytest.mark.parametrize(
    ("depth_ratio", "loss"),
    [(0.25, 1.31), (0.5, 1.27), (0.75, 1.24), (1.0, 1.19), (1.5, 1.13), (2.0, 1.07), (4.0, 0.93)],
)
def test_sharp_bend_by_depth(depth_ratio, loss):
    assert loss_sharp_bend(2e5, depth_ratio) == pytest.approx(loss, rel=0.035)


@pytest.mark.published(
    source="Blevins, Applied Fluid Dynamics Handbook, mitre bends of round pipe: upper bound"
)
@pytest.mark.parametrize("re", [3e3, 1e4, 1e5])
def test_sharp_bend_below_blevins(re):
    blevins = bend_miter(angle=90, Di=0.008, Re=re, method="Blevins")
    assert 0.6 * blevins < loss_bend(re, 0.0) <= 1.02 * blevins


@pytest.mark.published(
    source="Xiong and Chung 2007, mitre bends in rectangular micro-channels: very small loss in creeping flow"
)
def test_creeping_flow_turns_without_loss():
    assert loss_bend(20.0, 0.0) < 0.05
    assert loss_bend(100.0, 0.0) > 1.0


@pytest.mark.published(
    source="ASHRAE Handbook Fundamentals 2005, CR3-1, smooth rectangular elbow, square section, Re 200 000 and up"
)
@pytest.mark.parametrize(("ratio", "printed"), [(0.75, "0.44"), (1.0, "0.21"), (1.5, "0.17"), (2.0, "0.15")])
def test_round_bend_after_ashrae(ratio, printed):
    assert_as_printed(loss_round_bend(1e6, ratio), printed)
    assert_as_printed(loss_bend(1e6, ratio), printed, rel=0.03)


@pytest.mark.published(
    source="ASHRAE Handbook Fundamentals 2005, CR3-1, smooth rectangular elbow, r/W 1.5, by depth over width"
)
@pytest.mark.parametrize(
    ("depth_ratio", "printed"),
    [
        (0.25, "0.22"),
        (0.5, "0.20"),
        (0.75, "0.19"),
        (1.5, "0.15"),
        (2.0, "0.14"),
        (4.0, "0.15"),
        (8.0, "0.17"),
    ],
)
def test_round_bend_by_depth(depth_ratio, printed):
    assert_as_printed(loss_round_bend(1e6, 1.5, depth_ratio), printed, rel=0.04)


@pytest.mark.published(
    source="Idelchik, Handbook of Hydraulic Resistance, 4th edition, diagram 6-1: factor of the Reynolds number"
)
@pytest.mark.parametrize(
    ("re", "printed"), [(1e4, "2.00"), (2e4, "1.77"), (4e4, "1.56"), (8e4, "1.38"), (1.4e5, "1.15")]
)
def test_round_bend_by_reynolds_number(re, printed):
    assert_as_printed(loss_round_bend(re, 1.5) / loss_round_bend(3e5, 1.5), printed)


@pytest.mark.published(
    source="Rennels and Hudson, Pipe Flow (2012), rounded bends of round pipe, by the library fluids; 30 %"
)
@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0, 4.0])
@pytest.mark.parametrize("re", [1e4, 1e5])
def test_round_bend_near_rennels(re, ratio):
    whole = bend_rounded(
        Di=0.008, angle=90, fd=friction_factor(re), rc=0.008 * ratio, Re=re, method="Rennels"
    )
    arc = friction_factor(re) * math.pi / 2 * ratio
    assert whole == pytest.approx(loss_round_bend(re, ratio) + arc, rel=0.30)


@pytest.mark.published(
    source="Miller, Internal Flow Systems, and Ito 1960, rounded bends of round pipe, by the library fluids; 25 %"
)
@pytest.mark.parametrize("ratio", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("method", ["Miller", "Ito"])
def test_round_bend_in_turbulent_flow(ratio, method):
    whole = bend_rounded(
        Di=0.008, angle=90, fd=friction_factor(1e5), rc=0.008 * ratio, Re=1e5, roughness=0.0, method=method
    )
    arc = friction_factor(1e5) * math.pi / 2 * ratio
    assert loss_bend(1e5, ratio) + arc == pytest.approx(whole, rel=0.25)


@pytest.mark.published(source="Borda and Carnot, sudden expansion (1 - A1/A2)^2, by the library fluids")
@pytest.mark.parametrize(
    ("beta", "printed"), [(0.25, "0.8789"), (0.5, "0.5625"), (0.6, "0.4096"), (0.75, "0.1914")]
)
def test_sudden_expansion(beta, printed):
    assert_as_printed(loss_expansion(beta**2), printed)
    assert loss_expansion(beta**2) == pytest.approx(diffuser_sharp(Di1=beta, Di2=1.0))


@pytest.mark.published(source="Crane, Technical Paper 410, sudden contraction 0.5 (1 - beta^2)")
@pytest.mark.parametrize(("beta", "printed"), [(0.5, "0.375"), (0.75, "0.219")])
def test_sudden_contraction(beta, printed):
    assert_as_printed(loss_contraction(beta**2), printed)


@pytest.mark.published(source="Rennels and Hudson, Pipe Flow (2012), sudden contraction; band 30 %")
@pytest.mark.parametrize("beta", [0.5, 0.75])
def test_sudden_contraction_within_its_band(beta):
    assert loss_contraction(beta**2) == pytest.approx(contraction_sharp(Di1=1.0, Di2=beta), rel=0.30)


@pytest.mark.published(source="Crane, Technical Paper 410, sharp-edged flush entrance, K = 0.50")
def test_entrance():
    assert_as_printed(loss_entrance(2e4, 1.0), "0.50")
    assert loss_entrance(2e4, 1.0) == pytest.approx(entrance_sharp("Swamee"))


@pytest.mark.published(
    source="White, Fluid Mechanics: kinetic energy of laminar pipe flow is twice the flat profile's"
)
def test_exit():
    assert loss_exit(1000.0, None) == pytest.approx(2.0)
    assert loss_exit(2e4, None) == pytest.approx(1.0)


TEE_ROWS = [
    (0.0, "1.000", "0.000", "-0.900", "0.000"),
    (0.25, "1.038", "-0.063", "-0.042", "0.325"),
    (0.5, "1.156", "0.000", "0.413", "0.525"),
    (0.75, "1.366", "0.084", "0.791", "0.600"),
    (1.0, "1.690", "0.300", "1.100", "0.550"),
]


@pytest.mark.published(source=CRANE + ", by the library fluids; 1 %")
@pytest.mark.parametrize(("share", "branch_out", "run_out", "branch_in", "run_in"), TEE_ROWS)
def test_tee(share, branch_out, run_out, branch_in, run_in):
    assert_as_printed(loss_tee("branch", False, share), branch_out, rel=1e-3)
    assert_as_printed(loss_tee("run", False, share), run_out, rel=1e-3)
    assert_as_printed(loss_tee("branch", True, share), branch_in, rel=1e-3)
    assert_as_printed(loss_tee("run", True, share), run_in, rel=1e-3)


@pytest.mark.published(source=CRANE + ", by the library fluids; 2 % where its factor jumps at a share of 0.4")
@pytest.mark.parametrize("share", [0.1, 0.2, 0.3, 0.35, 0.395, 0.45, 0.6, 0.9])
def test_tee_against_library(share):
    legs = {"D_run": 0.008, "D_branch": 0.008, "Q_run": 1.0 - share, "Q_branch": share}
    assert loss_tee("branch", False, share) == pytest.approx(K_branch_diverging_Crane(**legs), rel=0.01)
    assert loss_tee("run", False, share) == pytest.approx(K_run_diverging_Crane(**legs), rel=0.01, abs=1e-6)
    assert loss_tee("branch", True, share) == pytest.approx(K_branch_converging_Crane(**legs), rel=0.02)
    assert loss_tee("run", True, share) == pytest.approx(K_run_converging_Crane(**legs), rel=0.01)


@pytest.mark.published(
    source="Idelchik, Handbook of Hydraulic Resistance, 3rd edition, diagram 7-29: opposed streams, equal areas"
)
def test_opposed_streams():
    assert loss_opposed_tee(True, 0.5) == pytest.approx(1.25)
    assert loss_opposed_tee(True, 1.0) == pytest.approx(2.0)
