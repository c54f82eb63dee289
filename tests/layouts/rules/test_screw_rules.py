"""What is said where a cord has no screw in reach: where, why, and what would help."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from layouts.clearance import clearances_of
from layouts.closing.close import close_panel
from layouts.closing.spacing import limit_spacing
from layouts.panel import KeepClear, Panel
from layouts.rules.screw_rules import METAL_COVER, check_cover_screws
from tests.layouts.sample_faces import sample_faces
from tests.layouts.sample_routed import sample_panel, sample_routed
from tests.layouts.sample_screws import keep_screws

PANEL, ROUTED = sample_panel(), sample_routed()
SEALED = close_panel(PANEL, ROUTED, clearances_of(PANEL))


def make_of(**new: object) -> Panel:
    return replace(PANEL, make=replace(PANEL.make, **new))  # type: ignore[arg-type]


def crowd(box: tuple[float, float, float, float]) -> Panel:
    """Return the sample with one more region that is kept clear."""
    return replace(PANEL, keep_clear=(*PANEL.keep_clear, KeepClear("handle", box, 61)))


@pytest.mark.parametrize(
    ("make", "allows"),
    [
        ({"cover": 9.0}, "allowed by 10 screw diameters between two screws"),
        ({"cover": 0.2}, "allowed by 8 cover thicknesses between two screws"),
        ({"cover": 4.0}, "allowed by the stiffness of cover and body"),
    ],
)
def test_the_limit_is_told(make, allows):
    panel = make_of(**make)
    (finding,) = check_cover_screws(panel, ROUTED, keep_screws(panel, ROUTED, SEALED, 4))
    assert finding.severity == "caution"
    assert allows in finding.text
    assert finding.limit == pytest.approx(limit_spacing(panel)[0] / 2)
    assert finding.value > finding.limit


def test_all_that_is_open_is_counted_and_the_worst_place_is_named():
    few = keep_screws(PANEL, ROUTED, SEALED, 4)
    (finding,) = check_cover_screws(PANEL, ROUTED, few)
    length = sum(stretch.length for stretch in few.coverage[0].stretches)
    assert re.match(
        rf"{length:.0f} mm of the cord under the cover, in \d+ places, have no screw", finding.text
    )
    assert f"the nearest is {few.coverage[0].reach:.3g} mm away" in finding.text
    assert finding.at_mm is not None
    assert finding.at_mm[2] == 0.0


def test_a_region_that_keeps_screws_away_is_named():
    panel = crowd((108.0, 122.0, 182.0, 140.0))
    sealed = close_panel(panel, ROUTED, clearances_of(panel))
    (finding,) = check_cover_screws(panel, ROUTED, sealed)
    assert "keep-clear region handle and tank keep screws away there" in finding.text
    assert finding.remedy == "Make keep-clear region handle smaller there."
    assert "keep-clear region handle" in finding.features
    assert "groove" in finding.features[0]


def test_the_cover_that_is_proposed_is_enough():
    """With the thickness, or the metal, of the remedy the same screws hold every cord."""
    panel = make_of(cover=4.0)
    sealed = close_panel(PANEL, ROUTED, clearances_of(PANEL))
    few = keep_screws(panel, ROUTED, sealed, len(sealed.screws))
    (finding,) = check_cover_screws(panel, ROUTED, few)
    thickness = float(re.search(r"use a cover of ([\d.]+) mm", finding.remedy)[1])
    for cured in (make_of(cover=thickness), make_of(cover=4.0, cover_material=METAL_COVER)):
        again = keep_screws(cured, ROUTED, sealed, len(sealed.screws))
        assert check_cover_screws(cured, ROUTED, again) == ()
    assert f'cover_material = "{METAL_COVER}"' in finding.remedy
    thinner = make_of(cover=thickness - 0.5)
    assert check_cover_screws(thinner, ROUTED, keep_screws(thinner, ROUTED, sealed, len(sealed.screws)))


def test_a_larger_screw_is_proposed_where_diameters_set_the_limit():
    panel = crowd((108.0, 122.0, 182.0, 140.0))
    panel = replace(panel, make=replace(panel.make, cover=9.0))
    sealed = close_panel(panel, ROUTED, clearances_of(panel))
    (finding,) = check_cover_screws(panel, ROUTED, sealed)
    assert sealed.coverage[0].limit == "diameters"
    assert "a cover of" not in finding.remedy
    size = re.search(r"use (M\d+) screws", finding.remedy)
    if size is not None:
        larger = replace(panel, make=replace(panel.make, screw=size[1]))
        assert limit_spacing(larger)[0] >= 2 * sealed.coverage[0].reach - 1e-6


def test_room_between_two_channels_is_told_in_mm():
    few = keep_screws(PANEL, ROUTED, SEALED, 1)
    (finding,) = check_cover_screws(PANEL, ROUTED, few)
    assert finding.remedy.startswith("Leave ")
    if "more between" in finding.remedy:
        assert re.match(
            r"Leave \d+\.\d mm more between .+ and .+, so that a screw fits there", finding.remedy
        )


def test_no_screw_at_all_is_a_fault():
    (finding,) = check_cover_screws(PANEL, ROUTED, replace(SEALED, screws=()))
    assert finding.severity == "fault"
    assert finding.text == "No place was left for a single cover screw."


def test_covers_that_are_held_are_not_spoken_of():
    assert check_cover_screws(PANEL, ROUTED, SEALED) == ()
    for closing in ("bonded", "one-piece"):
        panel, routed = sample_panel(closing), sample_routed(closing)
        assert check_cover_screws(panel, routed, close_panel(panel, routed, clearances_of(panel))) == ()


def test_each_cover_has_its_own():
    panel, routed = sample_faces()
    sealed = close_panel(panel, routed, clearances_of(panel))
    few = keep_screws(panel, routed, sealed, 2, "front")
    (finding,) = check_cover_screws(panel, routed, few)
    assert "the cord under the front cover" in finding.text
    assert finding.at_mm is not None
    assert finding.at_mm[2] == panel.make.body
