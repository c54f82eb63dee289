"""Departures from the shape of a panel file, in the words of the trade."""

from __future__ import annotations

import re
from collections.abc import Callable
from copy import deepcopy
from difflib import get_close_matches
from typing import Any, get_args, get_origin

from pydantic import ValidationError

from layouts.file.model import PanelFile
from layouts.file.positions import Path, name_parts
from layouts.file.quantities import MOST_LISTS, ONE, SEVERAL, Entry, show_value

ORDER: Path = ("loop", "order")


def check_shape(data: dict[str, Any]) -> tuple[PanelFile | None, list[tuple[Path, str]]]:
    """Return the file's tables and every departure from the shape of a panel file.

    Parameters
    ----------
    data : dict
        A parsed TOML document.

    Returns
    -------
    PanelFile or None
        Lengths in mm, the rest in SI. Unknown keys alone are left out of it, so that the other values can be
        checked too; any other departure gives None.
    list of (Path, str)
        Where, and what was read and is expected, in the order of the file's tables.
    """
    try:
        return PanelFile.model_validate(data), []
    except ValidationError as error:
        items = error.errors(include_url=False)
        paths = [tuple(part for part in item["loc"] if part not in (SEVERAL, ONE)) for item in items]
        problems = [(path, _describe(path, item)) for path, item in zip(paths, items, strict=True)]
        problems = name_parts(problems, _list_names(data))
        if any(item["type"] != "extra_forbidden" for item in items):
            return None, problems
        return PanelFile.model_validate(_leave_out(data, paths)), problems


def _list_names(data: dict[str, Any]) -> list[str | None]:
    """Return the name of each [[part]] of a document of any shape, None where it has none."""
    parts = data.get("part")
    tables = [part if isinstance(part, dict) else {} for part in parts] if isinstance(parts, list) else []
    return [name if isinstance(name := table.get("name"), str) else None for table in tables]


def _leave_out(data: dict[str, Any], paths: list[Path]) -> dict[str, Any]:
    """Return the document without the keys at some paths."""
    rest = deepcopy(data)
    for path in paths:
        table: Any = rest
        for part in path[:-1]:
            table = table[part]
        del table[path[-1]]
    return rest


def _describe(path: Path, item: Any) -> str:
    """Return pydantic's error in the words of the trade."""
    model, field = _find_field(path)
    read = show_value(item["input"])
    context: dict[str, Any] = item.get("ctx", {})
    expected = _expected(field)
    table = _table_words(path[:-1])
    last = path[-1] if path else ""
    if item["type"] == "extra_forbidden" and model is not None:
        known = list(model.model_fields)
        close = get_close_matches(str(last), known, n=1)
        hint = f" did you mean '{close[0]}'?" if close else ""
        return f"unknown key {show_value(last)};{hint} {table} takes {', '.join(known)}"
    if item["type"] == "string_type" and path[:2] == ORDER:
        lists = ", or a list of names" if len(path) - len(ORDER) < MOST_LISTS else ""
        return f"read {read}; expected a part's name in quotes{lists}"
    if item["type"] == "string_type" and path[0] == "service" and isinstance(last, int):
        return f"read {read}; expected a channel's name in quotes"
    describe = _MESSAGES.get(item["type"])
    if item["type"] == "missing" and isinstance(last, str) and model is not None:
        if len(path) == 1:
            return f"missing; a panel file needs {_wanted_table(last, field)}"
        return f"missing; {table} needs e.g. {last} = {_example(field)}"
    if describe is not None:
        return describe(read, context, expected)
    return f"read {read}: {item['msg']}; expected {expected}"


_MESSAGES: dict[str, Callable[[str, dict[str, Any], str], str]] = {
    "value_error": lambda read, context, expected: str(context["error"]),
    "literal_error": lambda read, context, expected: f"read {read}; expected {context['expected']}",
    "missing": lambda read, context, expected: f"missing; expected {expected}",
    "too_short": lambda read, context, expected: (
        f"read {context['actual_length']} entries; expected at least {context['min_length']}, {expected}"
    ),
    "too_long": lambda read, context, expected: (
        f"read {context['actual_length']} entries; expected at most {context['max_length']}, {expected}"
    ),
    "string_too_short": lambda read, context, expected: f"read {read}; write a reason",
    "greater_than_equal": lambda read, context, expected: f"read {read}; expected at least {context['ge']}",
    "less_than_equal": lambda read, context, expected: f"read {read}; expected at most {context['le']}",
    "string_type": lambda read, context, expected: f"read {read}; expected text in quotes, {expected}",
    "bool_type": lambda read, context, expected: f"read {read}; expected true or false, without quotes",
    "int_type": lambda read, context, expected: f"read {read}; expected a whole number, {expected}",
    "float_type": lambda read, context, expected: f"read {read}; expected a number, {expected}",
    "finite_number": lambda read, context, expected: f"read {read}; expected a finite number, {expected}",
    "list_type": lambda read, context, expected: f"read {read}; expected a list, {expected}",
    "tuple_type": lambda read, context, expected: f"read {read}; expected a list of two, {expected}",
    "dict_type": lambda read, context, expected: f"read {read}; expected a table, {expected}",
    "model_type": lambda read, context, expected: f"read {read}; expected a table, {expected}",
    "model_attributes_type": lambda read, context, expected: f"read {read}; expected a table, {expected}",
}


def _find_field(path: Path) -> tuple[type[Entry] | None, Any]:
    """Return the table model that holds the last key of `path`, and that key's field where it has one."""
    model: type[Entry] | None = PanelFile
    field: Any = None
    owner: type[Entry] | None = PanelFile
    for part in path:
        if isinstance(part, int):
            continue
        owner = model
        field = model.model_fields.get(part) if model is not None else None
        model = _model_in(field.annotation) if field is not None else None
    return owner, field


def _model_in(annotation: Any) -> type[Entry] | None:
    """Return the table model inside an annotation such as `list[PartTable] | None`."""
    if isinstance(annotation, type) and issubclass(annotation, Entry):
        return annotation
    for inner in get_args(annotation):
        found = _model_in(inner)
        if found is not None:
            return found
    return None


def _wanted_table(name: str, field: Any) -> str:
    model = _model_in(field.annotation)
    assert model is not None, "every key at the top of a panel file is a table"
    needed = [key for key, inner in model.model_fields.items() if inner.is_required()]
    header = f"[[{name}]]" if get_origin(field.annotation) is list else f"[{name}]"
    return f"a {header} table with at least {', '.join(needed)}"


def _example(field: Any) -> str:
    """Return an example of a field's value as it would stand in the file."""
    if field.examples:
        return _toml(field.examples[0])
    model = _model_in(field.annotation)
    if model is None:
        return '"..."'
    pairs = [
        f"{key} = {_toml(inner.examples[0])}" for key, inner in model.model_fields.items() if inner.examples
    ]
    return f"{{ {', '.join(pairs)} }}"


def _expected(field: Any) -> str:
    if field is None:
        return "a value of the kind its key asks for"
    model = _model_in(field.annotation)
    if field.examples or model is not None:
        return f"e.g. {_example(field)}"
    return field.description or "a value of the kind its key asks for"


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{_toml_key(key)} = {_toml(inner)}' for key, inner in value.items())} }}"
    if isinstance(value, list):
        return f"[{', '.join(_toml(inner) for inner in value)}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else str(value)


def _toml_key(key: str) -> str:
    """Return a key as TOML writes it: "G1/4" needs its quotes."""
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else f'"{key}"'


def _table_words(path: Path) -> str:
    name = ".".join(part for part in path if isinstance(part, str))
    if not name:
        return "a panel file"
    return f"[[{name}]]" if isinstance(path[-1], int) else f"[{name}]"
