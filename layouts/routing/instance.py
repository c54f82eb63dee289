"""One routing problem on the grid, as plain values.

*Cell*: (layer * rows + row) * columns + column, row 0 at the bottom, layer 0 the back face. *Direction*: 0 +x,
1 +y, 2 -x, 3 -y. *Terminal*: a cell where a channel may begin or end, with the directions in which it may leave
it. *Tail*: cells between a terminal and the tank wall or pump bore that it stands for: taken by the channel, not
searched. *Class*: what stands at a cell, with its own distances to the others: 0 is the channel of the usual
width, further channel classes are channels of other widths, the rest are ports. *Through hole*: where a channel
passes from one layer to the other; it takes its cell in both.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import numpy as np

from geom.errors import PanelFileError

CHANNEL = 0
DX = (1, 0, -1, 0)
DY = (0, 1, 0, -1)
ANY_DIRECTION = (0, 1, 2, 3)

MOST_BYTES = 50_000_000
MOST_CELLS = 400_000
MOST_SPACING = 100
MOST_CHANNELS = 1000
MOST_COST = 1e6
LEAST_STEP = 1e-3
"""Costs are compared to within 1e-9: much less a step, or much more, would be lost in rounding."""

_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Terminal:
    """A cell where a channel may end.

    Parameters
    ----------
    cell : int
    leaves : tuple of int
        Directions in which a channel may leave.
    port_class : int
        Class of what stands at `node`.
    node : int
        Cell of the port itself; equals `cell` where there is no tail.
    tail : tuple of int
        Channel cells from `node` up to, not including, `cell`: not searched.
    bore : tuple of int
        Cells of a bore from an edge to `node`, of the port's class.
    cost : float
        Added where the channel ends here.
    """

    cell: int
    leaves: tuple[int, ...] = ANY_DIRECTION
    port_class: int = CHANNEL
    node: int = -1
    tail: tuple[int, ...] = ()
    bore: tuple[int, ...] = ()
    cost: float = 0.0


@dataclass(frozen=True, slots=True)
class Rates:
    """What a channel's pieces cost, in whole units (of an instance's own choice, one for all its nets).

    Parameters
    ----------
    step : float
        A cell of straight channel.
    bend : float
        A bend, beyond the `2 * bend_cells` steps of its corner; not negative.
    tee : float
        A branch at a T.
    through : float
        A through hole from one layer to the other, its two turns included.
    """

    step: float
    bend: float
    tee: float = 0.0
    through: float = 0.0


@dataclass(frozen=True, slots=True)
class Net:
    """A channel to be routed: one terminal of each end is joined; three and more ends make a tree.

    Parameters
    ----------
    name : str
    ends : tuple of tuple of Terminal
    straight_down : bool
        One straight column from the first end down to the second.
    rates : Rates or None
        Its own rates; None: the instance's.
    leg_rates : tuple of Rates
        Of a tree, where its legs carry unlike flows: leg_rates[mask] are those of a leg with the ends of
        `mask` (bit e: end e) on one side, 2 ** ends long; empty: `rates` everywhere.
    channel_class : int
        Class of its cells: its width.
    """

    name: str
    ends: tuple[tuple[Terminal, ...], ...]
    straight_down: bool = False
    rates: Rates | None = None
    leg_rates: tuple[Rates, ...] = ()
    channel_class: int = CHANNEL


@dataclass(frozen=True, slots=True)
class Instance:
    """A routing problem.

    Parameters
    ----------
    columns, rows : int
    nets : tuple of Net
    blocked : (classes, layers * columns * rows) bool
        Where nothing of a class may stand.
    offsets : tuple of tuple of (n, 2) int
        offsets[a][b]: relative cells at which a feature of class b stands too near to one of class a, within a
        layer; layers do not disturb each other.
    rates : Rates
        Of every net that has none of its own.
    bend_cells : int
        Straight cells that a bend takes before and after its corner; 0: it turns within its cell.
    bend_radius_cells : float
        Centreline radius in cells, for the cells that an arc passes.
    tee_margin : int
        Least cells between a T and an end of the run that it stands on.
    layers : int
        1, or 2: channels in both faces, joined by through holes.
    labels : (layers * columns * rows) int or None
        Index into `label_names` of what blocks a cell for channels, -1 where nothing does.
    label_names : tuple of str
    """

    columns: int
    rows: int
    nets: tuple[Net, ...]
    blocked: np.ndarray
    offsets: tuple[tuple[np.ndarray, ...], ...]
    rates: Rates
    bend_cells: int = 0
    bend_radius_cells: float = 0.0
    tee_margin: int = 1
    labels: np.ndarray | None = None
    label_names: tuple[str, ...] = ()
    layers: int = 1

    @property
    def cells(self) -> int:
        """Number of cells of all layers."""
        return self.layers * self.columns * self.rows

    def rates_of(self, net: Net) -> Rates:
        """Return a net's rates: its own, or the instance's."""
        return self.rates if net.rates is None else net.rates


def square_offsets(spacing: int) -> np.ndarray:
    """Return the relative cells nearer than `spacing` in the greater of the two axes, (n, 2) int."""
    reach = np.arange(-(spacing - 1), spacing)
    dx, dy = np.meshgrid(reach, reach)
    return np.stack([dx.ravel(), dy.ravel()], axis=1).astype(np.int64)


def disc_offsets(distance: float) -> np.ndarray:
    """Return the relative cells nearer than `distance` (in cells, straight-line), (n, 2) int."""
    reach = int(np.ceil(distance))
    span = np.arange(-reach, reach + 1)
    dx, dy = np.meshgrid(span, span)
    near = np.hypot(dx, dy) < distance - 1e-9
    near[reach, reach] = True
    return np.stack([dx[near], dy[near]], axis=1).astype(np.int64)


class _Wrong(ValueError):
    """What is wrong, without the file's name."""


def read_instance(path: Path) -> Instance:
    """Read a routing instance file.

    Parameters
    ----------
    path : Path
        JSON: columns, rows, layers, spacing, cost {step, bend, through}, blocked, channels {name, ends,
        straight_down}. A cell is [column, row], or [column, row, layer] with layer 0 or 1: a blocked
        [column, row] is blocked in every layer, the cell of an end stands in layer 0. `through` is asked
        for where there are two layers. Other keys are not used.

    Returns
    -------
    Instance

    Raises
    ------
    PanelFileError
        Where the file is missing or is not such an instance; one line.
    """
    try:
        with path.open("rb") as handle:
            data = handle.read(MOST_BYTES + 1)
    except OSError as error:
        raise PanelFileError(
            (f"{path}: cannot be read: {error.strerror}; name a routing instance",)
        ) from None
    if len(data) > MOST_BYTES:
        raise PanelFileError((f"{path}: more than {MOST_BYTES} bytes: is this a routing instance?",))
    try:
        document = json.loads(data.decode("utf-8-sig"), parse_constant=_refuse_constant)
    except RecursionError:
        raise PanelFileError(
            (f"{path}: nested too deeply to read; a routing instance nests five deep",)
        ) from None
    except ValueError as error:
        raise PanelFileError(
            (f"{path}: not a JSON routing instance: {error}; correct the file there",)
        ) from None
    try:
        return _build_instance(document)
    except _Wrong as error:
        raise PanelFileError((f"{path}: not a routing instance: {error}",)) from None


def _build_instance(document: object) -> Instance:
    layers = _whole(_entry(document, "layers", ""), "layers", 1, 2)
    columns = _whole(_entry(document, "columns", ""), "columns", 1, MOST_CELLS)
    rows = _whole(_entry(document, "rows", ""), "rows", 1, MOST_CELLS)
    if columns * rows > MOST_CELLS:
        raise _Wrong(f"columns: {columns} x {rows} is {columns * rows} cells; at most {MOST_CELLS}")
    spacing = _whole(_entry(document, "spacing", ""), "spacing", 1, MOST_SPACING)
    cost = _entry(document, "cost", "")
    step = _number(_entry(cost, "step", "cost."), "cost.step", LEAST_STEP, MOST_COST)
    bend = _number(_entry(cost, "bend", "cost."), "cost.bend", 0.0, MOST_COST)
    through = 0.0
    if layers == 2 or (isinstance(cost, dict) and "through" in cost):
        through = _number(_entry(cost, "through", "cost."), "cost.through", 0.0, MOST_COST)
    cells = _list(_entry(document, "blocked", ""), "blocked", 0)
    blocked = np.zeros((1, layers * columns * rows), dtype=bool)
    for index, place in enumerate(cells):
        cell = _cell(place, f"blocked.{index + 1}", columns, rows, layers)
        blocked[0, cell] = True
        if isinstance(place, list) and len(place) == 2:
            blocked[0, cell :: columns * rows] = True
    channels = _list(_entry(document, "channels", ""), "channels", 1)
    if len(channels) > MOST_CHANNELS:
        raise _Wrong(f"channels: read {len(channels)}; at most {MOST_CHANNELS}")
    nets: dict[str, Net] = {}
    for index, channel in enumerate(channels):
        net = _build_net(channel, f"channels.{index + 1}", columns, rows, layers)
        if net.name in nets:
            raise _Wrong(
                f"channels.{index + 1}.name: {_shown(net.name)} stands twice; give each channel its own name"
            )
        nets[net.name] = net
    return Instance(
        columns=columns,
        rows=rows,
        nets=tuple(nets.values()),
        blocked=blocked,
        offsets=((square_offsets(spacing),),),
        rates=Rates(step, bend, through=through),
        layers=layers,
    )


def _build_net(channel: object, where: str, columns: int, rows: int, layers: int) -> Net:
    name = _entry(channel, "name", f"{where}.")
    if not isinstance(name, str) or not name.strip():
        _expected(f"{where}.name", name, "a name, a text that is not empty")
    ends = []
    for number, end in enumerate(_list(_entry(channel, "ends", f"{where}."), f"{where}.ends", 2)):
        place = f"{where}.ends.{number + 1}"
        cells = [
            _cell(cell, f"{place}.{index + 1}", columns, rows, layers)
            for index, cell in enumerate(_list(end, place, 1))
        ]
        ends.append(tuple(Terminal(cell=cell, node=cell) for cell in dict.fromkeys(cells)))
    straight = channel.get("straight_down", False) if isinstance(channel, dict) else False
    if not isinstance(straight, bool):
        _expected(f"{where}.straight_down", straight, "true or false")
    return Net(name=name, ends=tuple(ends), straight_down=straight)


def _entry(table: object, key: str, where: str) -> Any:
    if not isinstance(table, dict):
        _expected(where.rstrip(".") or "the file", table, f'an object with "{key}"')
    if key not in table:
        raise _Wrong(f"{where}{key}: missing; every routing instance has it")
    return table[key]


def _list(value: object, where: str, least: int) -> list[object]:
    if not isinstance(value, list):
        _expected(where, value, "a list")
    if len(value) < least:
        raise _Wrong(f"{where}: a list of {len(value)}; expected {least} or more")
    return value


def _whole(value: object, where: str, least: int, most: int) -> int:
    # In Python true is a whole number; in a file it is a slip.
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        _expected(where, value, f"a whole number from {least} to {most}")
    return value


def _number(value: object, where: str, least: float, most: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
        _expected(where, value, f"a number from {least:g} to {most:g}")
    return float(value)


def _cell(value: object, where: str, columns: int, rows: int, layers: int) -> int:
    if not isinstance(value, list) or not 2 <= len(value) <= 1 + layers:
        _expected(where, value, "a cell: [column, row]" + (" or [column, row, layer]" if layers > 1 else ""))
    x = _whole(value[0], f"{where}.1", 0, columns - 1)
    y = _whole(value[1], f"{where}.2", 0, rows - 1)
    layer = _whole(value[2], f"{where}.3", 0, layers - 1) if len(value) == 3 else 0
    return (layer * rows + y) * columns + x


def _expected(where: str, value: object, expected: str) -> NoReturn:
    raise _Wrong(f"{where}: read {_shown(value)}; expected {expected}")


def _shown(value: object) -> str:
    """Return a value in a few words: a long or deep one by its kind."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, float) and not math.isfinite(value):
        return "a number too large"
    text = json.dumps(value)
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}..."


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number of JSON")
