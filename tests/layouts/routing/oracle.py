"""The least cost of small instances by other means than the router's: a general solver, and plain enumeration.

A routing is feasible where the cells of two channels stand at least D apart in the greater of the two axes, within
a layer, and where a channel keeps the same distance to itself: of two of its cells in a layer that are nearer, the
way between them is a shortest one. Put in windows: all channels together lie in each window of D x D cells as one
piece at most, windows that overlap the border of the grid among them.
"""

from __future__ import annotations

import itertools

import networkx as nx
import numpy as np
from ortools.sat.python import cp_model

from layouts.routing.instance import Instance, Net, Rates, Terminal, square_offsets

STEP, BEND, THROUGH = 10, 20, 30

MOST_WORK = 20.0
"""The solver's own count of work, about seconds on a common machine; the same on every one."""


def least_cost(instance: Instance, spacing: int) -> float | None:
    """Return the least cost of an instance without tails and ports, None where it has no routing.

    Each net is a flow over cells with an axis. The pieces of a path in a window are its cells less its steps
    within it. Loops beside a path would only cost.

    Parameters
    ----------
    instance : Instance
        Bends turn within a cell; nets of two ends; rates of the instance.
    spacing : int

    Returns
    -------
    float or None

    Raises
    ------
    RuntimeError
        Where the solver needed more work than allowed.
    """
    model = cp_model.CpModel()
    costs: list = []
    pieces: dict[tuple[int, int, int], list] = {}
    for net in instance.nets:
        _add_net(model, instance, net, spacing, costs, pieces)
    for terms in pieces.values():
        model.add(sum(terms) <= 1)
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = MOST_WORK
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status != cp_model.OPTIMAL:
        raise RuntimeError(f"{solver.status_name(status)}: more work than {MOST_WORK}")
    return float(solver.objective_value)


def _add_net(model, instance: Instance, net: Net, spacing: int, costs: list, pieces: dict) -> None:
    cells = [c for c in range(instance.cells) if not instance.blocked[0, c]]
    into: dict[tuple[int, str], list] = {(c, axis): [] for c in cells for axis in "xy"}
    out: dict[tuple[int, str], list] = {place: [] for place in into}
    used: dict[int, list] = {c: [] for c in cells}

    def flow(tails, heads, cost):
        arc = model.new_bool_var("")
        for place in tails:
            out[place].append(arc)
        for place in heads:
            into[place].append(arc)
        costs.append(cost * arc)
        return arc

    for end, way in zip(net.ends, (into, out), strict=True):
        first = []
        for cell in sorted({t.cell for t in end} & set(cells)):
            for axis in "xy":
                first.append(model.new_bool_var(""))
                way[cell, axis].append(first[-1])
                if way is into:
                    used[cell].append(first[-1])
        model.add(sum(first) == 1)
    for cell in cells:
        for one, other in ("xy", "yx"):
            flow([(cell, one)], [(cell, other)], BEND)
    for a, b, axis in list_edges(instance):
        if a not in used or b not in used:
            continue
        for tail, head in ((a, b), (b, a)):
            if axis == "z":
                ways = [flow([(tail, one)], [(head, two)], THROUGH) for one in "xy" for two in "xy"]
                used[head].extend(ways)
                continue
            step = flow([(tail, axis)], [(head, axis)], STEP)
            used[head].append(step)
            for window in set(windows_of(instance, a, spacing)) & set(windows_of(instance, b, spacing)):
                pieces.setdefault(window, []).append(-step)
    for place in into:
        model.add(sum(into[place]) == sum(out[place]))
    for cell in cells:
        model.add(sum(used[cell]) <= 1)
        for window in windows_of(instance, cell, spacing):
            pieces.setdefault(window, []).extend(used[cell])


def list_edges(instance: Instance) -> list[tuple[int, int, str]]:
    """Return (cell, cell, axis) of all neighbours: x and y in a layer, z through the body."""
    out = []
    for cell in range(instance.cells):
        layer, place = divmod(cell, instance.columns * instance.rows)
        y, x = divmod(place, instance.columns)
        if x + 1 < instance.columns:
            out.append((cell, cell + 1, "x"))
        if y + 1 < instance.rows:
            out.append((cell, cell + instance.columns, "y"))
        if layer + 1 < instance.layers:
            out.append((cell, cell + instance.columns * instance.rows, "z"))
    return out


def windows_of(instance: Instance, cell: int, spacing: int) -> list[tuple[int, int, int]]:
    """Return the windows (layer, x, y of the lower left cell) that hold a cell."""
    layer, place = divmod(cell, instance.columns * instance.rows)
    y, x = divmod(place, instance.columns)
    return [(layer, x - dx, y - dy) for dx in range(spacing) for dy in range(spacing)]


def enumerate_least_cost(instance: Instance, spacing: int) -> float | None:
    """Return what `least_cost` does, by looking at every path of every net: for the smallest grids of one layer."""
    graph = nx.Graph()
    free = ~instance.blocked[0]
    graph.add_nodes_from(np.flatnonzero(free).tolist())
    graph.add_edges_from((a, b) for a, b, _ in list_edges(instance) if free[a] and free[b])
    options = [list(_list_paths(instance, graph, net, spacing)) for net in instance.nets]
    best = None
    for choice in itertools.product(*options):
        cost = sum(c for c, _ in choice)
        if (best is None or cost < best) and all(
            _apart(instance, one, two) >= spacing for (_, one), (_, two) in itertools.combinations(choice, 2)
        ):
            best = cost
    return best


def _list_paths(instance: Instance, graph: nx.Graph, net: Net, spacing: int):
    for start, goal in itertools.product(*({t.cell for t in end} for end in net.ends)):
        if start not in graph or goal not in graph:
            continue
        paths = [[start]] if start == goal else nx.all_simple_paths(graph, start, goal)
        for path in paths:
            places = [(c % instance.columns, c // instance.columns) for c in path]
            if _keeps_off_itself(places, spacing):
                turns = [(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(places)]
                bends = sum(one != two for one, two in itertools.pairwise(turns))
                yield STEP * len(turns) + BEND * bends, path


def _keeps_off_itself(places: list[tuple[int, int]], spacing: int) -> bool:
    for (m, a), (n, b) in itertools.combinations(enumerate(places), 2):
        dx, dy = abs(a[0] - b[0]), abs(a[1] - b[1])
        if max(dx, dy) < spacing and n - m > dx + dy:
            return False
    return True


def _apart(instance: Instance, one: list[int], two: list[int]) -> int:
    """Return the least distance of two paths in the greater of the two axes, in cells."""
    width = instance.columns
    return min(max(abs(a % width - b % width), abs(a // width - b // width)) for a in one for b in two)


def make_instance(
    seed: int, sides: tuple[int, int], nets: tuple[int, int], spacing: int, layers: int = 1
) -> Instance:
    """Return a random instance: ends of one to three cells in a row, a few blocked cells.

    Parameters
    ----------
    seed : int
    sides : (int, int)
        Least and most columns and rows.
    nets : (int, int)
        Least and most nets.
    spacing : int
    layers : int

    Returns
    -------
    Instance
    """
    rng = np.random.default_rng(seed)
    columns, rows = (int(n) for n in rng.integers(sides[0], sides[1] + 1, 2))
    cells = columns * rows * layers
    blocked = np.zeros((1, cells), bool)
    blocked[0, rng.random(cells) < rng.choice([0.0, 0.1, 0.2])] = True
    taken = np.zeros(cells, bool)
    made: list[Net] = []
    for number in range(int(rng.integers(nets[0], nets[1] + 1))):
        ends = []
        for _ in range(2):
            row = _pick_end(rng, columns, rows, layers, blocked[0] | taken)
            taken[row] = True
            ends.append(tuple(Terminal(cell=c, node=c) for c in row))
        made.append(Net(f"c{number + 1}", tuple(ends)))
    rates = Rates(STEP, BEND, through=THROUGH)
    offsets = ((square_offsets(spacing),),)
    return Instance(columns, rows, tuple(made), blocked, offsets, rates, layers=layers)


def _pick_end(rng, columns: int, rows: int, layers: int, taken: np.ndarray) -> list[int]:
    """Return one to three free cells in a row, their number by chance; fewer where there is no room."""
    for length in range(int(rng.choice([1, 1, 1, 2, 3])), 0, -1):
        starts = [
            cell
            for cell in range(columns * rows * layers)
            if cell % columns + length <= columns and not taken[cell : cell + length].any()
        ]
        if starts:
            first = int(rng.choice(starts))
            return list(range(first, first + length))
    raise ValueError(f"no free cell on a grid of {columns} x {rows}")
