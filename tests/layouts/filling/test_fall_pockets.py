"""Whether flowing coolant carries a pocket of air out of the panel."""

from dataclasses import replace

from layouts.filling.fall_pockets import is_carried_out
from layouts.filling.values import Carry, Pocket

POCKET = Pocket(2e3, (50.0, 60.0, 4.5), (50.0, 40.0, 4.5), 20.0, ("channel a - b",))
FALL = Carry(
    channel="a - b",
    leg="a - b",
    top=(50.0, 60.0),
    foot=(50.0, 20.0),
    layer="back",
    falls=40.0,
    slope_deg=90.0,
    bore=8.0,
    velocity_m_s=0.5,
    full_velocity_m_s=0.5,
    clears_m_s=(0.30, 0.33),
    surely_m_s=0.34,
    rise_m_s=0.03,
    verdict="carried",
)


def test_fast_coolant_carries_a_pocket_over_its_fall():
    assert is_carried_out((FALL,), POCKET, ("a - b",))
    assert not is_carried_out((replace(FALL, verdict="may be carried"),), POCKET, ("a - b",))
    assert not is_carried_out((FALL,), POCKET, ("c - d",))


def test_what_has_no_way_out_is_not_surely_carried():
    # Behind a hose that falls nothing is known of bore and flow.
    assert not is_carried_out((FALL,), replace(POCKET, way_out=None), ("a - b",))
