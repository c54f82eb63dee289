"""One routing problem on the grid, as plain values.

*Cell*: row * columns + column, row 0 at the bottom. *Direction*: 0 +x, 1 +y, 2 -x, 3 -y. *Terminal*: a cell
where a channel may begin or end, with the directions in which it may leave it. *Tail*: cells between a
terminal and the tank wall or pump bore that it stands for: taken by the channel, not searched.
*Class*: what stands at a cell, with its own distances to the others: 0 is the channel, the rest are ports.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from geom.errors import PanelFileError

CHANNEL = 0
DX = (1, 0, -1, 0)
DY = (0, 1, 0, -1)
ANY_DIRECTION = (0, 1, 2, 3)


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
class Net:
    """A channel to be routed: one terminal of each end is joined; three and more ends make a tree."""

    name: str
    ends: tuple[tuple[Terminal, ...], ...]
    straight_down: bool = False


@dataclass(frozen=True, slots=True)
class Instance:
    """A routing problem.

    Parameters
    ----------
    columns, rows : int
    nets : tuple of Net
    blocked : (classes, columns * rows) bool
        Where nothing of a class may stand.
    offsets : tuple of tuple of (n, 2) int
        offsets[a][b]: relative cells at which a feature of class b stands too near to one of class a.
    step, bend, tee : float
        Costs.
    bend_cells : int
        Straight cells that a bend takes before and after its corner; 0: it turns within its cell.
    bend_radius_cells : float
        Centreline radius in cells, for the cells that an arc passes.
    tee_margin : int
        Least cells between a T and an end of the run that it stands on.
    labels : (columns * rows) int or None
        Index into `label_names` of what blocks a cell for channels, -1 where nothing does.
    label_names : tuple of str
    """

    columns: int
    rows: int
    nets: tuple[Net, ...]
    blocked: np.ndarray
    offsets: tuple[tuple[np.ndarray, ...], ...]
    step: float
    bend: float
    tee: float = 0.0
    bend_cells: int = 0
    bend_radius_cells: float = 0.0
    tee_margin: int = 1
    labels: np.ndarray | None = None
    label_names: tuple[str, ...] = ()

    @property
    def cells(self) -> int:
        """Number of cells."""
        return self.columns * self.rows


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


def read_instance(path: Path) -> Instance:
    """Read a routing instance file.

    Parameters
    ----------
    path : Path
        JSON: columns, rows, layers, spacing, cost {step, bend, through}, blocked, channels.

    Returns
    -------
    Instance

    Raises
    ------
    PanelFileError
        Where the file is missing, is not such an instance, or has two layers.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise PanelFileError((f"{path}: cannot be read: {error.strerror}",)) from error
    except ValueError as error:
        raise PanelFileError((f"{path}: not a JSON routing instance: {error}",)) from error
    try:
        if data["layers"] != 1:
            raise PanelFileError((f"{path}: layers: {data['layers']!r}; expected 1: one face is routed",))
        columns, rows, spacing = int(data["columns"]), int(data["rows"]), int(data["spacing"])
        if columns < 1 or rows < 1 or columns * rows > 400_000 or spacing < 1:
            raise ValueError("columns, rows and spacing must be 1 or more, and at most 400,000 cells")

        def cell_of(place: list[int]) -> int:
            x, y = place
            if not (0 <= x < columns and 0 <= y < rows):
                raise ValueError(f"cell {place} lies outside {columns} x {rows}")
            return int(y * columns + x)

        blocked = np.zeros((1, columns * rows), dtype=bool)
        blocked[0, [cell_of(place) for place in data["blocked"]]] = True
        nets = tuple(
            Net(
                name=str(channel["name"]),
                ends=tuple(
                    tuple(Terminal(cell=cell_of(c), node=cell_of(c)) for c in end) for end in channel["ends"]
                ),
                straight_down=bool(channel.get("straight_down", False)),
            )
            for channel in data["channels"]
        )
        if any(len(net.ends) < 2 or not all(net.ends) for net in nets):
            raise ValueError("every channel needs two or more ends, and every end a cell")
        cost = data["cost"]
        return Instance(
            columns=columns,
            rows=rows,
            nets=nets,
            blocked=blocked,
            offsets=((square_offsets(spacing),),),
            step=float(cost["step"]),
            bend=float(cost["bend"]),
        )
    except PanelFileError:
        raise
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise PanelFileError((f"{path}: not a routing instance: {error}",)) from error
