"""One finding for all channels that are too narrow, or worth widening."""

from __future__ import annotations

from dataclasses import replace

import pytest

from layouts.advice import ChannelSize
from layouts.rules.channel_rules import check_narrow
from tests.layouts.sample_routed import sample_panel, sample_routed

NAMES = ("feed", "pump - blocks", "blocks - radiator", "radiator - tank")


def sizes(**changes: object) -> tuple[ChannelSize, ...]:
    """Return four channels of 8 mm that are wide enough, the second and third changed."""
    plain = ChannelSize(NAMES[0], 8.0, 5.0, 7.0, 8.0, 0.0)
    changed = replace(plain, **changes)
    return tuple(replace(changed if k in (1, 2) else plain, channel=name) for k, name in enumerate(NAMES))


def find(panel=None, **changes: object):
    found = check_narrow(panel or sample_panel(), sample_routed(), sizes(**changes))
    assert len(found) <= 1
    return found[0] if found else None


def test_wide_enough():
    assert find() is None
    assert find(widest_mm=12.0, gain=0.019) is None


def test_under_the_recommended_width():
    found = find(recommended_mm=9.5, widest_mm=11.0, gain=0.012)
    assert (found.code, found.severity) == ("channel.narrow", "note")
    assert (found.value, found.limit, found.unit) == (8.0, 9.5, "mm")
    assert found.features == ("channel pump - blocks", "channel blocks - radiator")
    assert "channel pump - blocks is 8 mm wide, better 9.5 mm" in found.text.replace("Channel", "channel")
    assert "its walls allow 11 mm, for 1.2 % more flow" in found.text
    assert 'widen_to = "9.5 mm"' in found.remedy


def test_under_the_least_width():
    found = find(least_mm=8.5, recommended_mm=9.5)
    assert found.severity == "caution"
    assert "needs 8.5 mm, better 9.5 mm (its walls allow no more)" in found.text
    assert "widen_to" not in found.remedy
    assert "deeper" in found.remedy


def test_no_width_is_enough():
    found = find(least_mm=None, recommended_mm=None)
    assert found.severity == "caution"
    assert found.limit is None
    assert "no width is enough for its flow" in found.text
    assert "no width is enough for the speed" in find(recommended_mm=None).text


def test_worth_widening():
    found = find(widest_mm=12.3, gain=0.034)
    assert found.severity == "note"
    assert (found.value, found.limit) == (8.0, 12.3)
    assert "its walls allow 12.3 mm, for 3.4 % more flow" in found.text
    assert 'widen_to = "12.5 mm"' in found.remedy


@pytest.mark.parametrize(("asked", "named"), [(9.0, True), (9.5, False), (12.0, False)])
def test_what_the_file_asks_for_already_is_no_remedy(asked, named):
    panel = sample_panel()
    panel = replace(panel, channel=replace(panel.channel, widen_to=asked))
    found = find(panel, recommended_mm=9.5, widest_mm=11.0, gain=0.012)
    assert ("widen_to" in found.remedy) == named
