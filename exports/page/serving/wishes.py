"""What a page may ask for: messages read into values, each checked for its kind, so that nothing else gets further.

The shapes are those of `Wish` and `Gesture` in `exports/page/web/src/page/messages.ts`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, NoReturn

from geom.errors import RillplateError

MOST_EDITS = 200
MOST_LETTERS = 200
"""Letters of a name or of what an edit is said to do."""

MOST_DEEP = 12
MOST_VALUES = 5000
"""How deep a value of a key may nest, and how many values there may be in it."""

MOST_COUNT = 2**53
"""The largest whole number that a page counts without error."""

Gesture = Mapping[str, Any]


class WishRefused(RillplateError, ValueError):
    """A message that is no wish: what is wrong with it, and the number that it bears, 0 where it bears none."""

    def __init__(self, why: str, number: int = 0) -> None:
        super().__init__(why)
        self.number = number


@dataclass(frozen=True, slots=True)
class Draft:
    """Try edits without writing them."""

    number: int
    revision: int
    edits: tuple[Gesture, ...]


@dataclass(frozen=True, slots=True)
class Edit:
    """Make edits."""

    number: int
    revision: int
    edits: tuple[Gesture, ...]
    said: str


@dataclass(frozen=True, slots=True)
class NewText:
    """Put another text into the file."""

    number: int
    revision: int
    text: str


@dataclass(frozen=True, slots=True)
class Walk:
    """Undo or redo the step that was seen on a revision."""

    number: int
    revision: int
    way: Literal["undo", "redo"]


@dataclass(frozen=True, slots=True)
class Settle:
    """Answer an open question that was put on a revision."""

    number: int
    revision: int
    conflict: int
    take: Literal["page", "file"]


@dataclass(frozen=True, slots=True)
class AskPlaces:
    """Where may a thing go?"""

    number: int
    thing: str


@dataclass(frozen=True, slots=True)
class Make:
    """Make the files."""


@dataclass(frozen=True, slots=True)
class StopMaking:
    """Stop making."""


@dataclass(frozen=True, slots=True)
class StartDemo:
    """Begin the file with a demo panel."""

    demo: str


@dataclass(frozen=True, slots=True)
class StartEmpty:
    """Begin the file with a form, as the page sent it."""

    form: Mapping[str, Any]


Wish = Draft | Edit | NewText | Walk | Settle | AskPlaces | Make | StopMaking | StartDemo | StartEmpty


def read_wish(message: str) -> Wish:
    """Return what a message asks for.

    Parameters
    ----------
    message : str
        JSON.

    Returns
    -------
    Wish

    Raises
    ------
    WishRefused
        It is no JSON, or no wish.
    """
    try:
        data = json.loads(message, parse_constant=_refuse_constant)
    except RecursionError:
        raise WishRefused("the message nests too deeply") from None
    except ValueError:
        raise WishRefused("the message is not JSON") from None
    if not isinstance(data, dict):
        raise WishRefused("the message is not an object")
    number = data.get("number", 0)
    if not _is_count(number):
        raise WishRefused(f'"number" must be a whole number from 0 to {MOST_COUNT}')
    if not _is_text(data):
        raise WishRefused(
            "the message holds half of a pair of Unicode's surrogates; write whole signs", number
        )
    try:
        return _read(data)
    except WishRefused as error:
        raise WishRefused(str(error), number) from None


def number_of(message: str) -> int:
    """Return the number that a message bears; 0 where it bears none that can be read."""
    try:
        number = json.loads(message)["number"]
    except (ValueError, TypeError, KeyError, RecursionError):
        return 0
    return number if _is_count(number) else 0


def _is_text(data: dict[str, Any]) -> bool:
    """Return whether all texts, keys among them, are such as can be written."""
    try:
        json.dumps(data, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        return False
    except RecursionError:
        raise WishRefused("the message nests too deeply") from None
    return True


def _read(data: dict[str, Any]) -> Wish:
    do = data.get("do")
    reader = _READERS.get(do) if isinstance(do, str) else None
    if reader is None:
        raise WishRefused(f'"do" must be one of {", ".join(_READERS)}')
    keys, read = reader
    for wanted in keys:
        if set(data) == {"do", *wanted}:
            return read(data)
    raise WishRefused(
        f'"{do}" goes with {" or with ".join(", ".join(wanted) or "nothing" for wanted in keys)}'
    )


def _read_draft(data: dict[str, Any]) -> Wish:
    return Draft(_count(data, "number"), _count(data, "revision"), _gestures(data["edits"]))


def _read_edit(data: dict[str, Any]) -> Wish:
    edits = _gestures(data["edits"])
    if not edits:
        raise WishRefused('"edits" must hold at least one edit')
    said = " ".join(_text(data, "said").split())
    return Edit(_count(data, "number"), _count(data, "revision"), edits, said)


def _read_text(data: dict[str, Any]) -> Wish:
    if not isinstance(data["text"], str):
        raise WishRefused('"text" must be a text')
    return NewText(_count(data, "number"), _count(data, "revision"), data["text"])


def _read_walk(data: dict[str, Any]) -> Wish:
    way: Literal["undo", "redo"] = "undo" if data["do"] == "undo" else "redo"
    return Walk(_count(data, "number"), _count(data, "revision"), way)


def _read_settle(data: dict[str, Any]) -> Wish:
    take = data["take"]
    if take != "page" and take != "file":
        raise WishRefused('"take" must be "page" or "file"')
    return Settle(_count(data, "number"), _count(data, "revision"), _count(data, "conflict"), take)


def _read_places(data: dict[str, Any]) -> Wish:
    return AskPlaces(_count(data, "number"), _text(data, "thing"))


def _read_start(data: dict[str, Any]) -> Wish:
    if "demo" in data:
        return StartDemo(_text(data, "demo"))
    form = data["form"]
    if not isinstance(form, dict):
        raise WishRefused('"form" must be an object')
    _check_value(form)
    return StartEmpty(form)


_READERS: dict[str, tuple[tuple[tuple[str, ...], ...], Callable[[dict[str, Any]], Wish]]] = {
    "draft": ((("number", "revision", "edits"),), _read_draft),
    "edit": ((("number", "revision", "edits", "said"),), _read_edit),
    "text": ((("number", "revision", "text"),), _read_text),
    "undo": ((("number", "revision"),), _read_walk),
    "redo": ((("number", "revision"),), _read_walk),
    "settle": ((("number", "revision", "conflict", "take"),), _read_settle),
    "places": ((("number", "thing"),), _read_places),
    "make": (((),), lambda data: Make()),
    "stop making": (((),), lambda data: StopMaking()),
    "start": ((("demo",), ("form",)), _read_start),
}


def _gestures(data: Any) -> tuple[Gesture, ...]:
    if not isinstance(data, list):
        raise WishRefused('"edits" must be a list')
    if len(data) > MOST_EDITS:
        raise WishRefused(f'"edits" holds {len(data)} edits; at most {MOST_EDITS} go together')
    for gesture in data:
        _check_gesture(gesture)
    return tuple(data)


def _check_gesture(gesture: Any) -> None:
    if not isinstance(gesture, dict):
        raise WishRefused("an edit must be an object")
    for keys, fits in _GESTURES:
        if set(gesture) == set(keys):
            for key, fit in zip(keys, fits, strict=True):
                fit(key, gesture[key])
            return
    known = "; ".join(", ".join(keys) for keys, _ in _GESTURES)
    raise WishRefused(f"an edit must have the keys of one kind: {known}")


def _fit_name(key: str, value: Any) -> None:
    if not isinstance(value, str) or not 0 < len(value) <= MOST_LETTERS:
        raise WishRefused(f'"{key}" must be a text of 1 to {MOST_LETTERS} letters')


def _fit_word(*words: str) -> Callable[[str, Any], None]:
    def fit(key: str, value: Any) -> None:
        if value not in words:
            raise WishRefused(f'"{key}" must be "{words[0]}"')

    return fit


def _fit_number(key: str, value: Any) -> None:
    if not _is_number(value):
        raise WishRefused(f'"{key}" must be a number')


def _fit_width(key: str, value: Any) -> None:
    if value is not None:
        _fit_number(key, value)


def _fit_numbers(many: int) -> Callable[[str, Any], None]:
    def fit(key: str, value: Any) -> None:
        if not isinstance(value, list) or len(value) != many or not all(_is_number(one) for one in value):
            raise WishRefused(f'"{key}" must be a list of {many} numbers')

    return fit


def _fit_changes(key: str, value: Any) -> None:
    if not isinstance(value, list) or not 0 < len(value) <= MOST_EDITS:
        raise WishRefused(f'"{key}" must be a list of 1 to {MOST_EDITS} changes')
    for change in value:
        if not isinstance(change, dict) or set(change) != {"path", "value"}:
            raise WishRefused("a change must have the keys path, value")
        path = change["path"]
        if not isinstance(path, list) or not 0 < len(path) <= MOST_DEEP:
            raise WishRefused(f'"path" must be a list of 1 to {MOST_DEEP} keys')
        for step in path:
            if not (_is_count(step) or (isinstance(step, str) and len(step) <= MOST_LETTERS)):
                raise WishRefused('"path" must hold names and whole numbers')
    _check_value(value)


_GESTURES: tuple[tuple[tuple[str, ...], tuple[Callable[[str, Any], None], ...]], ...] = (
    (("move", "to"), (_fit_name, _fit_numbers(2))),
    (("turn", "to"), (_fit_word("pump"), _fit_number)),
    (("box", "to"), (_fit_name, _fit_numbers(4))),
    (("size", "to"), (_fit_word("tank"), _fit_numbers(2))),
    (("free",), (_fit_name,)),
    (("pin",), (_fit_name,)),
    (("width", "to"), (_fit_name, _fit_width)),
    (("keep",), (_fit_name,)),
    (("let",), (_fit_name,)),
    (("add", "box", "name"), (_fit_word("clear"), _fit_numbers(4), _fit_name)),
    (("remove",), (_fit_name,)),
    (("changes",), (_fit_changes,)),
)


def _check_value(value: Any) -> None:
    """Refuse what nests deeper, holds more or other numbers than a panel file's value may."""
    left = MOST_VALUES
    layer = [value]
    for _ in range(MOST_DEEP):
        inner: list[Any] = []
        for one in layer:
            left -= 1
            if isinstance(one, float) and not math.isfinite(one):
                raise WishRefused("a number is too large")
            if isinstance(one, dict):
                inner += one.values()
            elif isinstance(one, list):
                inner += one
        if left < 0:
            raise WishRefused(f"a value holds more than {MOST_VALUES} values")
        if not inner:
            return
        layer = inner
    raise WishRefused(f"a value nests deeper than {MOST_DEEP}")


def _text(data: dict[str, Any], key: str) -> str:
    value = data[key]
    if not isinstance(value, str) or len(value) > MOST_LETTERS:
        raise WishRefused(f'"{key}" must be a text of at most {MOST_LETTERS} letters')
    return value


def _count(data: dict[str, Any], key: str) -> int:
    value = data[key]
    if not _is_count(value):
        raise WishRefused(f'"{key}" must be a whole number from 0 to {MOST_COUNT}')
    return int(value)


def _is_count(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= MOST_COUNT


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return abs(value) <= MOST_COUNT and math.isfinite(value)


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(name)
