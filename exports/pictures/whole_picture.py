"""The frame that all pictures of a panel share: heading, drawing, and what stands under it."""

from __future__ import annotations

from exports.pictures.labels import Rect
from exports.pictures.plan_symbols import INK, PAPER, SHEET, SOFT
from exports.pictures.svg import FONT, attribute, guess_width, number, text_at
from exports.wording.figures import wrap_words

MARGIN = 28.0
"""Round the whole, in picture units."""

HEAD = 58.0
"""Height of title and subtitle."""

LINE = 18.0
BOLD = 7.8
"""Height of a line of a warning, and width of its letters in the mean, in picture units."""

WARNING = "#8a3b12"
"""Ground of what must not be overlooked: white text reads well on it."""

Notes = tuple[list[str], float, float]
"""What stands under a drawing, its width and height."""


def whole_picture(
    label: str,
    heading: tuple[str, str],
    drawing: list[str],
    extent: Rect,
    notes: Notes,
    definitions: tuple[str, ...] = (),
    warning: str = "",
    breaks: tuple[float, ...] = (),
) -> str:
    """Return a whole SVG document with its own background.

    Parameters
    ----------
    label : str
        What the picture is, for those who cannot see it.
    heading : (str, str)
        Title and subtitle.
    drawing : list of str
    extent : Rect
        What the drawing covers, in picture units.
    notes : (list of str, float, float)
    definitions : tuple of str
        Patterns and clip paths.
    warning : str
        What must be seen before anything else; none where empty.
    breaks : tuple of float
        Heights in the drawing at which a printed page may end, in picture units; it also may before the notes.
    """
    left, top, right, bottom = extent
    under, notes_width, notes_height = notes
    widths = [right - left, notes_width, guess_width(heading[0], 20.0), guess_width(heading[1], 13.0)]
    width = max(widths) + 2 * MARGIN
    lines = wrap_words(warning, int((width - 2 * MARGIN - 20.0) / BOLD))
    tall = LINE * len(lines) + 8.0
    head = HEAD + (tall + 8.0 if lines else 0.0)
    origin = (MARGIN - left, MARGIN + head - top)
    notes_top = origin[1] + bottom + 20.0
    height = notes_top + notes_height + MARGIN
    broad = max((BOLD * len(line) for line in lines), default=0.0) + 20.0
    ends = [number(origin[1] + y) for y in breaks] + [number(notes_top - 12.0)]
    parted = f' data-breaks="{" ".join(ends)}"' if breaks else ""
    warned = [
        f'<rect x="{number(MARGIN)}" y="{number(MARGIN + 50)}" width="{number(broad)}" height="{number(tall)}" '
        f'rx="4" fill="{WARNING}"/>',
        *(
            text_at(MARGIN + 10, MARGIN + 66.5 + LINE * k, line, 13.0, SHEET, 'font-weight="600"')
            for k, line in enumerate(lines)
        ),
    ]
    return "\n".join(
        (
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{number(width)}" height="{number(height)}" '
            f'viewBox="0 0 {number(width)} {number(height)}" font-family={attribute(FONT)} role="img" '
            f"aria-label={attribute(label)}{parted}>",
            *(("<defs>", *definitions, "</defs>") if definitions else ()),
            f'<rect width="100%" height="100%" fill="{PAPER}"/>',
            text_at(MARGIN, MARGIN + 18, heading[0], 20.0, INK, 'font-weight="600"'),
            text_at(MARGIN, MARGIN + 38, heading[1], 13.0, SOFT),
            *(warned if lines else ()),
            f'<g transform="translate({number(origin[0])} {number(origin[1])})">',
            *drawing,
            "</g>",
            f'<g transform="translate({number(MARGIN)} {number(notes_top)})">',
            *under,
            "</g>",
            "</svg>",
            "",
        )
    )


def hatch_pattern() -> str:
    """Return the definition of the pattern "hatch", that of regions kept clear."""
    return (
        '<pattern id="hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V7" stroke="{SOFT}" stroke-width="1.4"/></pattern>'
    )
