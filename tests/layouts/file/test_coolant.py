"""The freezing points that a file is held to, against the property library."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from layouts.file.coolant import (
    FREEZING_C,
    FREEZING_STEP,
    LEAST_MIX_C,
    MOST_C,
    MOST_GLYCOL,
    OVER_FREEZING_K,
    find_least_c,
)
from layouts.hydraulics.coolant import GLYCOLS, coolant_properties


@pytest.mark.published(
    source="Melinder, Properties of Secondary Working Fluids (IIR 2010), freezing by mass fraction; 0.06 K"
)
@pytest.mark.parametrize("fluid", list(FREEZING_C))
def test_freezing_points(fluid):
    assert len(FREEZING_C[fluid]) == round(MOST_GLYCOL / FREEZING_STEP) + 1
    for k, celsius in enumerate(FREEZING_C[fluid]):
        mix = f"{GLYCOLS[fluid]}[{k * FREEZING_STEP!r}]"
        assert PropsSI("T_FREEZE", "T", 298.15, "P", 101_325, mix) - 273.15 == pytest.approx(
            celsius, abs=0.06
        )


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(["water", *FREEZING_C]), st.floats(0.0, MOST_GLYCOL), st.floats(0.0, 1.0))
def test_every_temperature_that_a_file_may_ask_for_has_properties(own_cache, fluid, share, place):
    low = find_least_c(fluid, share)
    coolant = coolant_properties(fluid, 0.0 if fluid == "water" else share, low + place * (MOST_C - low))
    assert coolant.viscosity_pa_s > 0
    assert coolant.density_kg_m3 > 0


@pytest.fixture(scope="module")
def own_cache(tmp_path_factory):
    """Keep this test's many answers out of the user's cache."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_CACHE_HOME", str(tmp_path_factory.mktemp("cache")))
        yield


def test_least_temperature():
    assert find_least_c("water", 0.0) == OVER_FREEZING_K
    assert find_least_c("ethylene glycol", 0.0) == OVER_FREEZING_K
    assert find_least_c("ethylene glycol", 0.2) == pytest.approx(-6.9)
    assert find_least_c("propylene glycol", 0.6) == LEAST_MIX_C
    # A share beyond the table is its own mistake; the temperature is then held to the last.
    assert find_least_c("propylene glycol", 0.9) == LEAST_MIX_C
