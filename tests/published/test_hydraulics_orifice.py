"""The orifice against ISO 5167 and the book's own limits."""

import pytest
from fluids.flow_meter import C_Reader_Harris_Gallagher, discharge_coefficient_to_K

from layouts.hydraulics.orifice import loss_orifice

PIPE_M = 0.06
DENSITY, VISCOSITY = 1000.0, 1e-3


def permanent_loss(share: float, bore_re: float) -> float:
    """Return K on the velocity in the bore, corner taps, in the smallest pipes that the standard covers."""
    bore = share * PIPE_M
    mass = bore_re * 3.141592653589793 / 4 * bore * VISCOSITY
    coefficient = C_Reader_Harris_Gallagher(PIPE_M, bore, DENSITY, VISCOSITY, mass, "corner")
    return float(discharge_coefficient_to_K(PIPE_M, bore, coefficient)) * share**4


@pytest.mark.published(
    source="ISO 5167-2:2003, discharge coefficient of Reader-Harris and Gallagher and permanent loss, by the "
    "library fluids: Re 1e5 in the bore; 12 %"
)
@pytest.mark.parametrize("share", [0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.75])
def test_permanent_loss_of_the_standard(share):
    assert loss_orifice(share**2) == pytest.approx(permanent_loss(share, 1e5), rel=0.12)


@pytest.mark.published(
    source="ISO 5167-2:2003, as above, down to Re 5000 in the bore: within the band of 30 % that is stated"
)
@pytest.mark.parametrize("bore_re", [5e3, 1e4, 3e4])
@pytest.mark.parametrize("share", [0.2, 0.3, 0.4, 0.5, 0.6])
def test_band_holds_at_lower_reynolds_numbers(share, bore_re):
    assert permanent_loss(share, bore_re) == pytest.approx(loss_orifice(share**2), rel=0.30)


@pytest.mark.published(
    source="Free jet by momentum: a contraction of (1 + 0.707)^2 = 2.91 for a small bore in a wide wall; Idelchik, "
    "Handbook of Hydraulic Resistance, 3rd edition, diagram 4-14 (as quoted by the Modelica Standard Library)"
)
def test_small_bore_in_a_wide_pipe():
    assert loss_orifice(1e-9) == pytest.approx(2.91, abs=0.005)
