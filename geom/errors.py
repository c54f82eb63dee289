"""What stops a run. Every class also inherits the built-in that it refines."""

from __future__ import annotations

from typing import Any


class RillplateError(Exception):
    """A failure told in the user's words.

    The message names the object, the value, the limit and the remedy.
    """

    exit_code = 3


class PanelFileError(RillplateError, ValueError):
    """A panel file that cannot be used.

    Parameters
    ----------
    problems : tuple of str
        Every problem of the file, each ``file:line: key: what was read; what is expected``.
    """

    exit_code = 2

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


class EditRefused(RillplateError, ValueError):
    """An edit of the panel file that cannot be made; the file stays as it is.

    Parameters
    ----------
    told : str
        What was asked for, and why it cannot be done.
    line : int or None
        Line of the file that it is about, counted from 1; the message starts with it.
    """

    exit_code = 2

    def __init__(self, told: str, line: int | None = None) -> None:
        super().__init__(told if line is None else f"line {line}: {told}")
        self.line = line


class OutOfRange(RillplateError, ValueError):
    """A value outside the range that a table or a formula covers."""


class LayoutError(RillplateError, RuntimeError):
    """No layout was found: the message names the channel and what blocks it.

    Parameters
    ----------
    told : str or failure
        The message; or, where no routing was found, the failure as a value whose `str` is the message
        (`layouts.failure.LayoutFailure`), kept as `failure` for report and picture.
    """

    def __init__(self, told: object) -> None:
        super().__init__(str(told))
        # `geom` knows no layouts: what the value holds is theirs.
        self.failure: Any = None if isinstance(told, str) else told


class GeometryError(RillplateError, RuntimeError):
    """A solid that did not come out as its features say."""


class OutputError(RillplateError, OSError):
    """A file or folder that could not be written; what was there before is untouched."""

    exit_code = 2
