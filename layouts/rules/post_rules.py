"""The design rule of posts in a pocket tank."""

from __future__ import annotations

from geom.findings import Finding, KeyChange, Severity
from geom.outline import Point
from geom.words import count_of
from layouts.advice import Heating
from layouts.cures import Cure, join_cures
from layouts.file.offers import keep_readable, offer_changes
from layouts.file_changes import set_key, set_length
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.rules.findings import make_finding
from layouts.strength.posts import MOST_POSTS, PostProposal, propose_posts, thicker_cover
from layouts.strength.working_pressure import hottest_coolant_c

MOST_WORDS = "; with more posts their grooves and cords would cost more than either"
"""Why no more posts are set than `MOST_POSTS`."""


def check_posts(panel: Panel, routed: Routed, heating: Heating | None = None) -> tuple[Finding, ...]:
    """Ask whether the cover over a pocket tank needs posts, and whether they help enough (`tank.posts`).

    This is an estimate of the bow in the middle of the tank. What it does to the cord, the rules of the real cover say.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    heating : Heating or None
        None: the coolant is as warm as the file says.
    """
    proposal = propose_posts(panel, routed, None if heating is None else hottest_coolant_c(panel, heating))
    if proposal is None or not proposal.needed:
        return ()
    if panel.tank.posts == "auto":
        return (_tell_built(panel, routed, proposal),)
    bow = (
        f"held along its cord alone, the cover over the tank bows by an estimated {proposal.plain_bow:.2g} mm"
    )
    if proposal.places:
        posts = count_of(len(proposal.places), "post")
        left = f"bring it to {proposal.bow:.2g} mm, of {proposal.limit:.2g} mm allowed"
        bow += f"; {posts} of {proposal.diameter:g} mm, a cover screw in each, would {left}"
    else:
        bow += f"; posts do not help: {proposal.hindrance}"
    ways = [_thicken(thicker_cover(panel, proposal.plain_bow, proposal.limit))]
    if proposal.places and not proposal.hindrance:
        ways.insert(0, Cure('write posts = "auto" in [tank]', (set_key("auto", "tank", "posts"),)))
    offered = offer_changes(panel, *ways)
    return (_make(routed, proposal, "note", bow, join_cures(ways), proposal.plain_bow, offered),)


def _tell_built(panel: Panel, routed: Routed, proposal: PostProposal) -> Finding:
    """Return what is said of posts that the file lets stand."""
    bow = (
        f"held along its cord alone, the cover over the tank bows by an estimated {proposal.plain_bow:.2g} mm"
    )
    if proposal.hindrance:
        thicker = _thicken(thicker_cover(panel, proposal.bow, proposal.limit))
        return _make(
            routed,
            proposal,
            "caution",
            f"{bow}, more than {proposal.limit:.2g} mm, and posts do not help enough: {proposal.hindrance}",
            f"{thicker.text}, use a thinner cord, whose posts are smaller, or a smaller tank"
            + (MOST_WORDS if len(proposal.places) == MOST_POSTS else ""),
            proposal.bow,
            offer_changes(panel, thicker),
        )
    count = len(proposal.places)
    stand = "stands" if count == 1 else "stand"
    thick = thicker_cover(panel, proposal.plain_bow, proposal.limit)
    more = ""
    if count > proposal.for_bow:
        more = f"; {proposal.for_bow} would do for that, the others for the pull on their screws"
    return _make(
        routed,
        proposal,
        "note",
        f"{count_of(count, 'post')} of {proposal.diameter:g} mm, a cover screw in each, {stand} in the tank: {bow}, "
        f"with {'it' if count == 1 else 'them'} by {proposal.bow:.2g} mm, of {proposal.limit:.2g} mm allowed{more}",
        f'a cover of {thick:g} mm does as well without posts (posts = "none" in [tank])',
        proposal.bow,
        keep_readable(panel, set_length(thick, "make", "cover"), set_key("none", "tank", "posts")),
    )


def _thicken(thickness: float) -> Cure:
    return Cure(f'set cover = "{thickness:g} mm" in [make]', (set_length(thickness, "make", "cover"),))


def _make(
    routed: Routed,
    proposal: PostProposal,
    severity: Severity,
    text: str,
    remedy: str,
    bow: float,
    changes: tuple[KeyChange, ...],
) -> Finding:
    at = (*_middle(routed, proposal), 0.0)
    return make_finding(
        "tank.posts", severity, text, remedy, bow, proposal.limit, "mm", at, ("tank",), changes
    )


def _middle(routed: Routed, proposal: PostProposal) -> Point:
    """Return the first post's place, or the tank's middle where there is none, [mm]."""
    if proposal.places or routed.tank.box is None:
        return proposal.places[0]
    x0, y0, x1, y1 = routed.tank.box
    return (x0 + x1) / 2, (y0 + y1) / 2
