"""Small schematic plans on the sheets: ports, cords with their seams, the order of screws, where clamps press.

A back cover's figure is drawn as whoever works on it sees it: mirrored. Letters never are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from reportlab.lib import colors
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject
from reportlab.platypus import Flowable

from exports.lettering import BOLD, MM, PLAIN, text_points
from exports.sheets.values import Schematic
from exports.wording.cord_names import cord_tag
from exports.wording.hole_numbers import port_numbers, screw_numbers
from geom.frame import EDGES, INTO
from geom.outline import Arc, Loop, Point, Segment, outline_rectangle
from layouts.closing.seams import place_seam
from layouts.closing.wet_regions import joint_discs, outline_channel, outline_tank
from layouts.plan import CordLoop, Layer, Plan
from layouts.strength.tightening_order import order_screws

WET = colors.Color(0.86, 0.86, 0.86)
LAND = colors.Color(0.80, 0.80, 0.80)
FAINT = colors.Color(0.55, 0.55, 0.55)

MOST_HIGH, MOST_HIGH_NAMED = 98.0 * MM, 82.0 * MM
"""Of a figure, and of one with the names of ports."""

OUTSIDE = 11.0 * MM
"""Room round the panel for the ports on its edges."""

THIN = 1.0 * MM
"""The same where none are drawn."""

BADGE = 2.3 * MM
"""Radius of a number's circle."""

PORT = 2.6 * MM
"""The same of a port's letter."""

SMALL = 6.4
"""Size of letters in circles, and of names, [pt]."""

TINY = 4.8
"""Size of the screws' own numbers beside their circles, [pt]."""

APART = 2 * PORT + 0.5 * MM
"""Least distance of the marks of two ports."""

SPREADS = 200
"""Most rounds of moving marks apart."""

MOVED = 0.5 * MM
"""A mark that stands farther from its port than that has a line to it."""


class DrawnSchematic(Flowable):
    """A schematic plan as wide as the page at most."""

    def __init__(self, plan: Plan, figure: Schematic, width: float) -> None:
        super().__init__()
        panel = plan.panel
        self._plan = plan
        self._figure = figure
        named = figure.kind == "ports"
        self._left = self._right = self._low = OUTSIDE if named else THIN
        room = (width - self._left - self._right, (MOST_HIGH_NAMED if named else MOST_HIGH) - 2 * self._low)
        self._scale = min(room[0] / panel.width, room[1] / panel.height)
        self._mirrored = figure.layer == "back" and not named
        self.width = panel.width * self._scale + self._left + self._right
        self.height = panel.height * self._scale + 2 * self._low

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Return its size, [pt]."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it at the origin of its canvas."""
        canvas: Canvas = self.canv
        canvas.saveState()
        plan, panel, layer = self._plan, self._plan.panel, self._figure.layer
        sheet = outline_rectangle(0.0, 0.0, panel.width, panel.height, panel.corner_radius)
        bonded = self._figure.kind == "clamps"
        self._fill((sheet,), LAND if bonded else None, 1.2)
        layers: tuple[Layer, ...] = ("back", "front") if self._figure.kind == "ports" else (layer,)
        loops: list[Loop] = []
        for one in layers:
            for channel in plan.routed.channels:
                loops += outline_channel(channel, 0.0, one)
            if one == "back" and plan.routed.tank.box is not None:
                loops.append(outline_tank(plan.routed, 0.0))
        shade = colors.white if bonded else WET
        for loop in loops:
            self._fill((loop,), None, 0.7, FAINT)
        for loop in loops:
            self._fill((loop,), shade, 0.0)
        for _, at, radius in joint_discs(panel, plan.routed, layer) if layer in layers else ():
            self._circle(at, radius * self._scale, shade, FAINT)
        {
            "ports": self._draw_ports,
            "cords": self._draw_cords,
            "tightening": self._draw_order,
            "clamps": self._draw_clamps,
        }[self._figure.kind]()
        canvas.restoreState()

    def _to(self, at: Point) -> Point:
        """Return a point of the panel on the figure, [pt]."""
        x = self._plan.panel.width - at[0] if self._mirrored else at[0]
        return self._left + x * self._scale, self._low + at[1] * self._scale

    def _path(self, path: tuple[Segment, ...], closed: bool) -> PDFPathObject:
        drawn = self.canv.beginPath()
        drawn.moveTo(*self._to(path[0].start))
        for piece in path:
            if isinstance(piece, Arc):
                _curve(drawn, piece, self._to)
            else:
                drawn.lineTo(*self._to(piece.end))
        if closed:
            drawn.close()
        return drawn

    def _fill(
        self,
        loops: tuple[Loop, ...],
        shade: colors.Color | None,
        line: float,
        ink: colors.Color = colors.black,
    ) -> None:
        canvas: Canvas = self.canv
        canvas.setStrokeColor(ink)
        canvas.setLineWidth(line)
        if shade is not None:
            canvas.setFillColor(shade)
        for loop in loops:
            canvas.drawPath(self._path(loop, True), stroke=int(line > 0), fill=int(shade is not None))
        canvas.setStrokeColor(colors.black)
        canvas.setFillColor(colors.black)

    def _circle(
        self, at: Point, radius: float, shade: colors.Color = colors.white, ink: colors.Color = colors.black
    ) -> None:
        canvas: Canvas = self.canv
        canvas.setLineWidth(0.6)
        canvas.setFillColor(shade)
        canvas.setStrokeColor(ink)
        canvas.circle(*self._to(at), radius, fill=1)
        canvas.setFillColor(colors.black)
        canvas.setStrokeColor(colors.black)

    def _letter(self, at: Point, text: str, size: float = SMALL) -> None:
        """Write a few letters in the middle of a point of the figure, [pt]."""
        self.canv.setFont(BOLD, size)
        self.canv.drawCentredString(at[0], at[1] - 0.36 * size, text)

    def _draw_cord(self, loop: CordLoop, width: float) -> None:
        canvas: Canvas = self.canv
        canvas.setLineWidth(max(width * self._scale, 0.8))
        canvas.setLineJoin(1)
        canvas.drawPath(self._path(loop.path, loop.closed), stroke=1, fill=0)

    def _draw_cords(self) -> None:
        canvas: Canvas = self.canv
        loops = self._plan.sealed.loops_of(self._figure.layer)
        for screw in self._plan.sealed.screws_of(self._figure.layer):
            self._circle(screw, 1.0 * MM)
        for loop in loops:
            self._draw_cord(loop, self._plan.panel.make.cord)
        taken: list[Point] = []
        for loop in loops:
            seam = place_seam(loop)
            if seam is not None:
                self._draw_seam(loop, seam)
                taken.append(self._to(seam))
        for loop in loops:
            at = self._place_badge(loop, taken)
            taken.append(at)
            canvas.setLineWidth(0.8)
            canvas.setFillColor(colors.white)
            canvas.circle(*at, BADGE + 0.4 * MM, fill=1)
            canvas.setFillColor(colors.black)
            self._letter(at, cord_tag(loop), 7.2)

    def _draw_seam(self, loop: CordLoop, seam: Point) -> None:
        """Draw a stroke across a cord where its ends meet."""
        straight = min(loop.path, key=lambda piece: math.dist(piece.at(0.5), seam))
        (ax, ay), (bx, by) = self._to(straight.start), self._to(straight.end)
        length = math.hypot(bx - ax, by - ay) or 1.0
        x, y = self._to(seam)
        dx, dy = -(by - ay) / length * 1.9 * MM, (bx - ax) / length * 1.9 * MM
        self.canv.setLineWidth(1.3)
        self.canv.line(x - dx, y - dy, x + dx, y + dy)

    def _place_badge(self, loop: CordLoop, taken: list[Point]) -> Point:
        """Return the place on a cord that is farthest from seams and badges, [pt]."""
        places = [self._to(piece.at(0.5)) for piece in loop.path]
        places += [self._to(piece.start) for piece in loop.path]
        return max(
            places, key=lambda at: round(min((math.dist(at, other) for other in taken), default=0.0), 3)
        )

    def _draw_order(self) -> None:
        for loop in self._plan.sealed.loops_of(self._figure.layer):
            self.canv.setStrokeColor(FAINT)
            self._draw_cord(loop, 0.4 * self._plan.panel.make.cord)
            self.canv.setStrokeColor(colors.black)
        screws = self._plan.sealed.screws_of(self._figure.layer)
        own = screw_numbers(self._plan, self._figure.layer)
        for number, screw in enumerate(order_screws(screws), 1):
            self._circle(screws[screw], BADGE)
            x, y = self._to(screws[screw])
            self._letter((x, y), str(number))
            inward = -1.0 if y > self._low + self._plan.panel.height * self._scale / 2 else 1.0
            self._small((x, y + inward * (BADGE + 0.6 * TINY)), own[screw])

    def _small(self, at: Point, text: str) -> None:
        """Write a small number in the middle of a point of the figure, on white, [pt]."""
        canvas: Canvas = self.canv
        wide = text_points(text, TINY)
        canvas.setFillColor(colors.white)
        canvas.rect(at[0] - wide / 2 - 0.4, at[1] - 0.45 * TINY, wide + 0.8, 0.9 * TINY, stroke=0, fill=1)
        canvas.setFillColor(colors.black)
        canvas.setFont(PLAIN, TINY)
        canvas.drawCentredString(at[0], at[1] - 0.36 * TINY, text)

    def _draw_clamps(self) -> None:
        lands = self._plan.sealed.lands_of(self._figure.layer)
        if lands is None:
            return
        canvas: Canvas = self.canv
        for number, at in enumerate((*lands.clamps, *lands.weights), 1):
            x, y = self._to(at)
            if number > len(lands.clamps):
                canvas.setFillColor(colors.white)
                canvas.setLineWidth(0.8)
                canvas.rect(x - BADGE, y - BADGE, 2 * BADGE, 2 * BADGE, fill=1)
                canvas.setFillColor(colors.black)
            else:
                self._circle(at, BADGE)
            self._letter((x, y), str(number))

    def _draw_ports(self) -> None:
        canvas: Canvas = self.canv
        panel, routed = self._plan.panel, self._plan.routed
        if panel.pump.on in ("front", "back"):
            canvas.setDash(3, 2)
            canvas.setLineWidth(0.8)
            canvas.circle(*self._to(routed.pump.inlet), panel.pump.seat_diameter / 2 * self._scale)
            canvas.setDash()
        anchors = []
        for port in routed.ports:
            x, y = self._to((port.at[0], port.at[1]))
            if port.on in EDGES:
                dx, dy, _ = INTO[port.on]
                canvas.setLineWidth(0.8)
                canvas.line(x, y, x - dx * 1.4 * MM, y - dy * 1.4 * MM)
                x, y = x - dx * (1.4 * MM + PORT), y - dy * (1.4 * MM + PORT)
            anchors.append((x, y))
        self._name_rooms(anchors)
        marks = spread_marks(anchors, APART)
        canvas.setLineWidth(0.6)
        for (x, y), (u, v) in zip(anchors, marks, strict=True):
            if math.dist((x, y), (u, v)) > MOVED:
                canvas.line(x, y, u, v)
                canvas.circle(x, y, 0.6 * MM, fill=1)
        for (x, y), number, port in zip(marks, port_numbers(self._plan), routed.ports, strict=True):
            canvas.setLineWidth(0.9)
            canvas.setFillColor(colors.white)
            if port.is_shut:
                canvas.rect(x - PORT, y - PORT, 2 * PORT, 2 * PORT, fill=1)
            else:
                canvas.circle(x, y, PORT, fill=1)
            canvas.setFillColor(colors.black)
            self._letter((x, y), number)

    def _name_rooms(self, anchors: list[Point]) -> None:
        """Write the names of pump and tank where no port stands."""
        canvas: Canvas = self.canv
        plan = self._plan
        rooms = (
            [("pump", self._to(plan.routed.pump.inlet))] if plan.panel.pump.on in ("front", "back") else []
        )
        box = plan.routed.tank.box
        if box is not None:
            rooms.append(("tank", self._to(((box[0] + box[2]) / 2, (box[1] + box[3]) / 2))))
        canvas.setFont(PLAIN, SMALL)
        for name, (x, y) in rooms:
            steps = (0.0, *(sign * k * PORT for k in range(1, 8) for sign in (1.0, -1.0)))
            low = max(steps, key=lambda step: min(_clear((x, y + step), at) for at in anchors))
            canvas.drawCentredString(x, y + low - 0.36 * SMALL, name)


def _clear(at: Point, port: Point) -> float:
    """Return how far a name is clear of a port's mark, as far as that counts, [pt]."""
    return round(min(math.dist(at, port), 3.0 * PORT), 3)


def spread_marks(anchors: Sequence[Point], apart: float) -> list[Point]:
    """Return places for marks that stand apart from each other, each as near to its own anchor as that allows, [pt].

    Parameters
    ----------
    anchors : sequence of (float, float)
    apart : float
        Least distance of two marks.
    """
    places = [(x, y) for x, y in anchors]
    for _ in range(SPREADS):
        moved = False
        for k, one in enumerate(places):
            for j in range(k):
                other, one = places[j], places[k]
                gap = math.dist(one, other)
                if gap >= apart - 1e-6:
                    continue
                # Two on one place go apart sideways.
                dx, dy = ((one[0] - other[0]) / gap, (one[1] - other[1]) / gap) if gap > 1e-9 else (1.0, 0.0)
                push = (apart - gap) / 2 + 1e-4
                places[k] = (one[0] + dx * push, one[1] + dy * push)
                places[j] = (other[0] - dx * push, other[1] - dy * push)
                moved = True
        if not moved:
            break
    return places


def _curve(drawn: PDFPathObject, arc: Arc, to: Callable[[Point], Point]) -> None:
    """Add an arc to a path as cubic curves, each of an eighth of a turn at most."""
    count = max(1, math.ceil(abs(arc.sweep) / (math.pi / 4)))
    step = arc.sweep / count
    reach = 4.0 / 3.0 * math.tan(step / 4.0) * arc.radius
    for k in range(count):
        a, b = arc.first + k * step, arc.first + (k + 1) * step
        (ax, ay), (bx, by) = arc.at(k / count), arc.at((k + 1) / count)
        first = (ax - reach * math.sin(a), ay + reach * math.cos(a))
        second = (bx + reach * math.sin(b), by - reach * math.cos(b))
        drawn.curveTo(*to(first), *to(second), *to((bx, by)))
