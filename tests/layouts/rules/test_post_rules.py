"""What is said of posts: proposed, built, of no use."""

from __future__ import annotations

from dataclasses import replace

import pytest

from layouts.rules.post_rules import check_posts
from layouts.strength.posts import add_posts, bow_between_posts, cure_by_posts, propose_posts
from tests.layouts.sample_posts import resize_tank, sample_large_tank
from tests.layouts.sample_routed import sample_panel, sample_routed


def without(panel):
    return replace(panel, tank=replace(panel.tank, posts="none"))


def test_built_posts_are_told_with_both_bows():
    panel, routed = sample_large_tank()
    proposal = propose_posts(panel, routed)
    (finding,) = check_posts(panel, add_posts(panel, routed))
    assert (finding.code, finding.severity, finding.unit) == ("tank.posts", "note", "mm")
    assert finding.value == proposal.bow <= finding.limit == proposal.limit
    assert finding.text.startswith(
        "3 posts of 19.9 mm, a cover screw in each, stand in the tank: held along its cord"
    )
    assert (
        f"bows by an estimated {proposal.plain_bow:.2g} mm, with them by {proposal.bow:.2g} mm"
        in finding.text
    )
    assert finding.text.endswith("; 2 would do for that, the others for the pull on their screws.")
    assert finding.at_mm == (*proposal.places[0], 0.0)
    lightly = replace(panel.rules, test_pressure_pa=20_000.0)
    panel, routed = sample_large_tank(9.0)
    (single,) = check_posts(replace(panel, rules=lightly), routed)
    assert single.text.startswith("1 post of 19.9 mm, a cover screw in each, stands in the tank")
    assert "the pull" not in single.text


def test_posts_are_proposed_where_the_file_has_none():
    panel, routed = sample_large_tank()
    (finding,) = check_posts(without(panel), routed)
    assert finding.severity == "note"
    assert finding.value == bow_between_posts(panel, routed, ())
    assert "3 posts of 19.9 mm, a cover screw in each, would bring it to" in finding.text
    assert "mm, of 0.075 mm allowed" in finding.text
    assert finding.remedy.startswith('Write posts = "auto" in [tank], or set cover = "')
    thin = sample_large_tank(2.0)
    (short,) = check_posts(without(thin[0]), thin[1])
    assert "auto" not in short.remedy
    assert "mm of 0.075 mm allowed" in cure_by_posts(without(thin[0]), thin[1]).text


@pytest.mark.parametrize(
    ("cover", "told"), [(2.0, "even 6 posts, the most that are set, leave it at"), (1.0, "leave it at")]
)
def test_posts_that_help_too_little_are_a_caution(cover, told):
    panel, routed = sample_large_tank(cover)
    (finding,) = check_posts(panel, routed)
    assert finding.severity == "caution"
    assert finding.value > finding.limit
    assert told in finding.text
    assert "thinner cord" in finding.remedy
    assert finding.remedy.endswith("; with more posts their grooves and cords would cost more than either.")


def test_a_narrow_tank_is_told():
    panel, routed = resize_tank((100.0, 85.0, 240.0, 115.0), 2.0)
    (finding,) = check_posts(panel, routed)
    assert finding.severity == "caution"
    assert "needs a pocket of 33.9 mm, and the tank is 30 mm" in finding.text
    assert finding.at_mm == (170.0, 100.0, 0.0)
    (proposed,) = check_posts(without(panel), routed)
    assert proposed.severity == "note"
    assert "posts do not help: a post of 19.9 mm" in proposed.text
    assert "auto" not in proposed.remedy


def test_nothing_is_said_without_need():
    thick = sample_large_tank(25.0)
    assert check_posts(*thick) == check_posts(without(thick[0]), thick[1]) == ()
    for closing in ("bonded", "one-piece"):
        assert check_posts(sample_panel(closing), sample_routed(closing)) == ()
