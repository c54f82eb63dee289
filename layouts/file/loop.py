"""The order of flow in a panel file: where tank and pump must stand, and each part once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from layouts.file.model import PanelFile
from layouts.file.positions import Path, Problems

Steps = Sequence["str | Steps"]
"""The loop's order, a group or a chain, as the file has it."""

RESERVED = ("tank", "pump", "drain", "bleed")
"""Names of the panel's own pieces, which no part may bear."""


def check_loop(file: PanelFile, problems: Problems) -> None:
    """Note every entry of the loop's order that stands wrong, and every part that it leaves out.

    Parameters
    ----------
    file : PanelFile
    problems : Problems
        Added to; an empty order is one problem.
    """
    order = file.loop.order
    where: Path = ("loop", "order")
    parts = list(dict.fromkeys(part.name for part in file.part if part.name not in RESERVED))
    if not order:
        first = f", '{parts[0]}'" if parts else ""
        problems.add(
            where, f"the list is empty; write what the coolant passes: ['tank', 'pump'{first}, 'tank']"
        )
        return
    if order[0] != "tank" or order[-1] != "tank" or len(order) < 3:
        problems.add(where, f"read {_order_words(order)}; it must start and end with 'tank': the loop closes")
    flat = list(_check_steps(order, where, False, problems))
    _check_pump_once(order, [path for path, name in flat if name == "pump"], problems)
    used: dict[str, Path] = {}
    for path, name in flat:
        if name == "tank":
            if path not in ((*where, 0), (*where, len(order) - 1)):
                problems.add(path, "'tank' stands inside the loop; it is only its start and its end")
        elif name in parts and name in used:
            problems.add(path, f"'{name}' stands twice in the loop; use each part once")
        elif name not in parts and name != "pump":
            problems.add(path, f"'{name}' is not a part; use {', '.join(('tank', 'pump', *parts))}")
        used.setdefault(name, path)
    for index, part in enumerate(file.part):
        if part.name not in used and part.name not in RESERVED:
            problems.add(
                ("part", index, "name"),
                f"'{part.name}' stands nowhere in loop.order; add it or remove the part",
            )


def _check_steps(steps: Steps, where: Path, parallel: bool, problems: Problems) -> Iterator[tuple[Path, str]]:
    """Yield every name with its path; note each list in it that is no group or chain."""
    for index, step in enumerate(steps):
        path = (*where, index)
        if isinstance(step, str):
            yield path, step
            continue
        if len(step) < 2:
            what = "a chain" if parallel else "a parallel group"
            inside = " in a parallel group" if parallel else ""
            only = f": {_order_words(step)}" if step else ""
            problems.add(
                path, f"{what} of {len(step)}{inside}{only}; name two or more parts, or one without brackets"
            )
        yield from _check_steps(step, path, not parallel, problems)


def _check_pump_once(order: Steps, pumps: list[Path], problems: Problems) -> None:
    """Check that the pump stands once, directly after the tank that the order starts with."""
    must = "directly after the first 'tank', as the second entry"
    if not pumps:
        problems.add(("loop", "order"), f"'pump' is missing in {_order_words(order)}; write it {must}")
    elif len(pumps) > 1:
        problems.add(
            pumps[-1], f"'pump' stands {len(pumps)} times in {_order_words(order)}; keep it once, {must}"
        )
    elif order[0] == "tank" and order[1] != "pump":
        inside = "inside a parallel group" if len(pumps[0]) > 3 else f"as entry {int(pumps[0][2]) + 1}"
        problems.add(pumps[0], f"'pump' stands {inside} of {_order_words(order)}; write it {must}")


def _order_words(order: Steps) -> str:
    """Return the order as a message shows it: [tank, pump, [left, right], tank]."""
    steps = (step if isinstance(step, str) else _order_words(step) for step in order)
    return f"[{', '.join(steps)}]"
