"""Posts of the body in a pocket tank, each with a cover screw: whether the cover needs them, how many, and where.

The cover is taken as a plate that rests on the middle of the cord round the tank and stands still at each post.
Beside finite elements of the real cover (`layouts.strength.cover`) it is an estimate only: without posts up to twice
the bow, for screws hold the rim; with posts between 0.6 of it and half as much again, for what the cords push and the
shear of a thick cover are left out. The rules of the real cover judge. A post itself stands still: coolant presses the
tank's floor and its cover apart with one pressure, so that what pulls the one end of a post pulls the other as much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from geom.outline import Point
from geom.standards import tables
from geom.words import count_of, join_names
from layouts.bending.closed_form import plate_rigidity
from layouts.clearance import clearances_of
from layouts.closing.post_cords import post_diameter
from layouts.closing.spacing import round_up
from layouts.cures import Cure
from layouts.file_changes import set_key
from layouts.panel import Panel
from layouts.plan import Routed
from layouts.strength.cover_limits import bow_limits
from layouts.strength.point_supports import held_bow
from layouts.strength.post_loads import overload
from layouts.strength.post_room import PostRoom, find_post_room
from layouts.strength.post_search import keep_places, list_bows, look_points, search_places
from layouts.strength.working_pressure import find_working_pressure

MOST_POSTS = 6
"""With more, a smaller tank or a thicker cover costs less than their grooves and cords; common practice, no source."""


@dataclass(frozen=True, slots=True)
class PostProposal:
    """What posts would do for the cover over a pocket tank.

    Parameters
    ----------
    plain_bow : float
        Bow of the cover without posts, [mm].
    limit : float
        That it may have, [mm].
    places : tuple of (float, float)
        Axes of the posts, [mm]; empty where none are needed or none fit.
    diameter : float
        Of a post, [mm].
    bow : float
        Of the cover with these posts, [mm].
    hindrance : str
        What keeps posts from bringing the bow under the limit; empty where they do, or are not needed.
    for_bow : int
        How many would do for the bow; more stand where so few screws would bear too little.
    """

    plain_bow: float
    limit: float
    places: tuple[Point, ...]
    diameter: float
    bow: float
    hindrance: str
    for_bow: int = 0

    @property
    def needed(self) -> bool:
        """Whether the cover bows too far without posts."""
        return self.plain_bow > self.limit


def add_posts(panel: Panel, routed: Routed, hottest_c: float | None = None) -> Routed:
    """Return the routed panel with posts in its tank, where the file lets them stand and the cover needs them.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    hottest_c : float or None
        Warmest coolant that the plan knows of, [°C]; None: the file's.

    Returns
    -------
    Routed
    """
    if panel.tank.posts != "auto":
        return routed
    proposal = propose_posts(panel, routed, hottest_c)
    if proposal is None or not proposal.places:
        return routed
    tank = replace(routed.tank, posts=proposal.places, post_diameter=proposal.diameter)
    return replace(routed, tank=tank)


def propose_posts(panel: Panel, routed: Routed, hottest_c: float | None = None) -> PostProposal | None:
    """Return the fewest posts that keep the cover over a pocket tank from bowing too far, whatever the file says.

    Where their screws bear too little, more. Where no number of posts does, those that help most. Posts that stand in
    the routed tank play no part.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    hottest_c : float or None
        Warmest coolant that the plan knows of, [°C]; None: the file's.

    Returns
    -------
    PostProposal or None
        None without a pocket tank under a cover on a cord.
    """
    if panel.make.closing != "cord" or routed.tank.box is None:
        return None
    plain = bow_between_posts(panel, routed, (), hottest_c)
    limit = bow_limits(tables.cord(panel.make.cord))[0]
    diameter = post_diameter(panel)
    if plain <= limit:
        return PostProposal(plain, limit, (), diameter, plain, "")
    room = find_post_room(panel, routed, diameter)
    places, bow, for_bow = _choose_posts(panel, routed, room, limit, hottest_c)
    proposal = PostProposal(plain, limit, places, diameter, bow, "", for_bow)
    return replace(proposal, hindrance=_name_hindrance(panel, room, proposal))


def cure_by_posts(panel: Panel, routed: Routed, hottest_c: float | None = None) -> Cure | None:
    """Return what posts would do where the file does not ask for them; None where nothing.

    Parameters
    ----------
    panel : Panel
    routed : Routed
    hottest_c : float or None
        Warmest coolant that the plan knows of, [°C]; None: the file's.
    """
    if panel.tank.posts == "auto":
        return None
    proposal = propose_posts(panel, routed, hottest_c)
    if proposal is None or not proposal.places:
        return None
    count = count_of(len(proposal.places), "post")
    if not proposal.hindrance:
        return Cure(
            f'let {count} stand in the tank (posts = "auto" in [tank])', (set_key("auto", "tank", "posts"),)
        )
    # By how much the cover would have to be thicker, nothing here says.
    return Cure(
        f'with a thicker cover, let {count} stand in the tank (posts = "auto" in [tank]), which alone would bring its '
        f"bow to {proposal.bow:.2g} mm of {proposal.limit:.2g} mm allowed, by an estimate"
    )


def bow_between_posts(
    panel: Panel, routed: Routed, posts: tuple[Point, ...], hottest_c: float | None = None
) -> float:
    """Return the greatest bow of the cover over a pocket tank with posts at those places, [mm].

    In use for years and at the test, whichever is more.

    Parameters
    ----------
    panel : Panel
        Closed by a cord.
    routed : Routed
        With a pocket tank; the posts in it play no part.
    posts : tuple of (float, float)
        [mm]
    hottest_c : float or None
        Warmest coolant that the plan knows of, [°C]; None: the file's.

    Returns
    -------
    float

    Source
    ------
    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, chapter 5: `layouts.strength.point_supports`.
    """
    (x0, y0), width, height = _cover_plate(panel, routed)
    supports = np.array(posts).reshape(-1, 2) - (x0, y0)
    bow = held_bow(width, height, supports, look_points(width, height))
    return float(bow.max()) * bow_factor(panel, hottest_c)


def bow_factor(panel: Panel, hottest_c: float | None = None) -> float:
    """Return the bow of the cover over that for a pressure and a stiffness of one, [1/mm3].

    Parameters
    ----------
    panel : Panel
    hottest_c : float or None
        Warmest coolant that the plan knows of, [°C]; None: the file's.
    """
    row, thickness, warm = (
        tables.material(panel.make.cover_row),
        panel.make.cover,
        panel.coolant.temperature_c if hottest_c is None else hottest_c,
    )
    loads = (
        (find_working_pressure(panel).pressure_pa, row.young_at(warm, lasting=True)),
        (panel.rules.test_pressure_pa, row.young_at(warm)),
    )
    return max(
        pressure_pa * 1e-6 / plate_rigidity(thickness, young_mpa, row.poisson)
        for pressure_pa, young_mpa in loads
    )


def thicker_cover(panel: Panel, bow: float, limit: float) -> float:
    """Return the thickness at which a cover that bows by `bow` would bow by `limit`, rounded up, [mm]."""
    return round_up(panel.make.cover * (bow / limit) ** (1 / 3))


def _cover_plate(panel: Panel, routed: Routed) -> tuple[Point, float, float]:
    """Return lower left corner, width and height of the cover between the middles of the cord round the tank, [mm]."""
    gaps, box = clearances_of(panel), routed.tank.box
    if box is None:
        raise ValueError("a separate tank has no cover")
    off = gaps.land + gaps.groove_width / 2
    x0, y0, x1, y1 = box
    return (x0 - off, y0 - off), x1 - x0 + 2 * off, y1 - y0 + 2 * off


def _choose_posts(
    panel: Panel, routed: Routed, room: PostRoom, limit: float, hottest_c: float | None
) -> tuple[tuple[Point, ...], float, int]:
    """Return the fewest posts that keep the bow under the limit, else those that help most, the bow [mm], and how many
    would do for that alone.

    Posts clear of the way down to the outlet are preferred where as few of them do. More are taken where their screws
    would be pulled by more than they bear, as far as more help.
    """
    bow = bow_between_posts(panel, routed, (), hottest_c)
    best: tuple[Point, ...] = ()
    over, for_bow = math.inf, 0
    if not len(room.places):
        return best, bow, for_bow
    factor = bow_factor(panel, hottest_c)
    anywhere = list_bows(*_cover_plate(panel, routed), room.places)
    beside = keep_places(anywhere, room.preferred)
    for count in range(1, MOST_POSTS + 1):
        found, reached = search_places(anywhere, room.apart, count)
        if len(found) < count:
            break
        clear, clear_bow = search_places(beside, room.apart, count)
        if len(clear) == count and clear_bow <= max(limit / factor, reached):
            found, reached = clear, clear_bow
        if reached * factor > limit:
            if reached * factor < bow:
                best, bow = found, reached * factor
            continue
        for_bow = for_bow or count
        load = overload(panel, routed, found, hottest_c)
        if load < over:
            best, bow, over = found, reached * factor, load
        if load == 0:
            break
    return best, bow, for_bow


def _name_hindrance(panel: Panel, room: PostRoom, proposal: PostProposal) -> str:
    """Return what keeps posts from bringing the bow under the limit; empty where they do."""
    diameter, count, bow = proposal.diameter, len(proposal.places), proposal.bow
    if bow <= proposal.limit:
        return ""
    if not room.fits:
        return (
            f"a post of {diameter:g} mm with a way of {room.way:g} mm on each side needs a pocket of "
            f"{diameter + 2 * room.way:.3g} mm, and the tank is {min(panel.tank.size or (0.0, 0.0)):.3g} mm"
        )
    if not len(room.places):
        leave = "leaves" if len(room.obstacles) == 1 else "leave"
        return f"{join_names(room.obstacles)} {leave} no place for a post of {diameter:g} mm"
    if count == MOST_POSTS:
        return f"even {count_of(count, 'post')}, the most that are set, leave it at {bow:.2g} mm"
    beside = f" beside {join_names(room.obstacles)}" if room.obstacles else ""
    return (
        f"there is room for no more than {count_of(count, 'post')} of {diameter:g} mm{beside}, which leaves it at "
        f"{bow:.2g} mm"
    )
