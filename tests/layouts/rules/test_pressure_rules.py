"""The test pressure against what the panel sees in use."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from geom.units import parse_quantity
from layouts.panel import Panel
from layouts.rules.pressure_rules import check_test_pressure
from layouts.strength.working_pressure import find_working_pressure
from tests.layouts.sample_routed import sample_panel


def with_test(pressure_pa: float) -> Panel:
    panel = sample_panel()
    return replace(panel, rules=replace(panel.rules, test_pressure_pa=pressure_pa))


def test_a_test_under_the_pressure_in_use_is_told():
    use = find_working_pressure(sample_panel()).pressure_pa
    assert check_test_pressure(with_test(use)) == ()
    (finding,) = check_test_pressure(with_test(0.9 * use))
    assert (finding.code, finding.severity, finding.unit) == ("test.low", "caution", "kPa")
    assert finding.value == pytest.approx(0.9 * use / 1e3)
    assert finding.limit == pytest.approx(use / 1e3)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.999])
def test_the_remedy_cures_it_and_asks_for_little_more(share):
    use = find_working_pressure(sample_panel()).pressure_pa
    (finding,) = check_test_pressure(with_test(share * use))
    asked = parse_quantity(re.search(r'test_pressure = "([^"]+)"', finding.remedy)[1], "pressure")
    assert use <= asked <= use + 1001.0
    assert check_test_pressure(with_test(asked)) == ()
