"""The compiled core of the narrow gap: cells drawn together into pieces, and ways through them that share none.

A piece is a set of free cells, joined by straight steps, in which two channels would stand too near each other:
it holds one channel at most. Ways that share no piece are counted by augmenting paths, and the pieces that
bound their number are a least cut.

Source
------
Menger, "Zur allgemeinen Kurventheorie", Fundamenta Mathematicae 10 (1927): as many disjoint ways as the least
cut has vertices; Ford and Fulkerson, "Maximal flow through a network", Canadian Journal of Mathematics 8 (1956).
"""

from __future__ import annotations

import numpy as np

from geom.compiled import compile_cached


@compile_cached
def gather_pieces(columns, rows, free, wide, high, off_x, off_y, piece):  # type: ignore[no-untyped-def]
    """Number the pieces: joined free cells within each tile of a grid of tiles; return how many there are.

    Parameters
    ----------
    columns, rows : int
    free : (layers * rows * columns,) bool
    wide, high : int
        Of a tile, in cells.
    off_x, off_y : int
        Where the first whole tile begins.
    piece : (cells,) int
        Filled: the piece of each cell, -1 where it is not free.
    """
    piece[:] = -1
    waiting = np.empty(wide * high, np.int64)
    count = 0
    for cell in range(free.size):
        if not free[cell] or piece[cell] >= 0:
            continue
        size = 1
        waiting[0] = cell
        piece[cell] = count
        while size > 0:
            size -= 1
            c = waiting[size]
            x = c % columns
            y = (c // columns) % rows
            for d in range(4):
                nx = x + (d == 0) - (d == 2)
                ny = y + (d == 1) - (d == 3)
                if nx < 0 or nx >= columns or ny < 0 or ny >= rows:
                    continue
                if (nx + wide - off_x) // wide != (x + wide - off_x) // wide:
                    continue
                if (ny + high - off_y) // high != (y + high - off_y) // high:
                    continue
                n = c + (nx - x) + (ny - y) * columns
                if free[n] and piece[n] < 0:
                    piece[n] = count
                    waiting[size] = n
                    size += 1
        count += 1
    return count


@compile_cached
def link_pieces(columns, rows, piece, pieces, from_piece, from_end, to_piece, to_end, ends):  # type: ignore[no-untyped-def]
    """Return the arcs between pieces, from `ends` starting nodes and to as many goals, as (start, heads).

    Nodes: the pieces, then the starts, then the goals. Pieces of unlike layers are joined where they share a
    cell's place: a hole may stand there.

    Parameters
    ----------
    columns, rows : int
    piece : (layers * rows * columns,) int
    pieces : int
    from_piece, from_end : (m,) int
        Start from_end[k] leads into piece from_piece[k].
    to_piece, to_end : (n,) int
        Piece to_piece[k] leads to goal to_end[k].
    ends : int
    """
    layer = columns * rows
    nodes = pieces + 2 * ends
    start = np.zeros(nodes + 1, np.int64)
    heads = np.empty(0, np.int64)
    fill = np.zeros(nodes, np.int64)
    for turn in range(2):
        for cell in range(piece.size):
            here = piece[cell]
            if here < 0:
                continue
            x = cell % columns
            y = (cell // columns) % rows
            for d in range(6):
                if d == 0 and x + 1 < columns:
                    other = cell + 1
                elif d == 1 and y + 1 < rows:
                    other = cell + columns
                elif d == 2 and x > 0:
                    other = cell - 1
                elif d == 3 and y > 0:
                    other = cell - columns
                elif d == 4 and cell >= layer:
                    other = cell - layer
                elif d == 5 and cell + layer < piece.size:
                    other = cell + layer
                else:
                    continue
                there = piece[other]
                if there < 0 or there == here:
                    continue
                if turn == 0:
                    start[here + 1] += 1
                else:
                    heads[fill[here]] = there
                    fill[here] += 1
        for k in range(from_piece.size):
            here = pieces + from_end[k]
            if turn == 0:
                start[here + 1] += 1
            else:
                heads[fill[here]] = from_piece[k]
                fill[here] += 1
        for k in range(to_piece.size):
            here = to_piece[k]
            if turn == 0:
                start[here + 1] += 1
            else:
                heads[fill[here]] = pieces + ends + to_end[k]
                fill[here] += 1
        if turn == 0:
            for n in range(nodes):
                start[n + 1] += start[n]
                fill[n] = start[n]
            heads = np.empty(start[nodes], np.int64)
    return start, heads


@compile_cached
def count_ways(start, heads, first_start, first_goal):  # type: ignore[no-untyped-def]
    """Return how many ways lead from starts to goals without sharing a node, and which nodes bound them.

    Parameters
    ----------
    start, heads : int
        Arcs from each node, as `link_pieces` returns them.
    first_start, first_goal : int
        Nodes from first_start up to first_goal are starts, those from there on goals.

    Returns
    -------
    int
    (nodes,) int
        2: before the cut; 1: in the cut nearest to the starts; 0: behind it.
    """
    nodes = start.size - 1
    before = np.full(nodes, -1, np.int64)
    after = np.full(nodes, -1, np.int64)
    used = np.zeros(nodes, np.bool_)
    # A node is entered (2 n) and left (2 n + 1): a way takes the arc between them.
    parent = np.empty(2 * nodes, np.int64)
    queue = np.empty(2 * nodes, np.int64)
    ways = 0
    while True:
        parent[:] = -2
        head = 0
        size = 0
        for n in range(first_start, first_goal):
            if not used[n]:
                parent[2 * n] = -1
                queue[size] = 2 * n
                size += 1
        goal = -1
        while head < size and goal < 0:
            state = queue[head]
            head += 1
            n = state >> 1
            if state & 1 == 0:
                if not used[n]:
                    nxt = 2 * n + 1
                elif before[n] >= 0:
                    nxt = 2 * before[n] + 1
                else:
                    continue
                if parent[nxt] == -2:
                    parent[nxt] = state
                    queue[size] = nxt
                    size += 1
                    if nxt == 2 * n + 1 and n >= first_goal:
                        goal = nxt
                continue
            if used[n] and parent[2 * n] == -2:
                parent[2 * n] = state
                queue[size] = 2 * n
                size += 1
            for k in range(start[n], start[n + 1]):
                other = heads[k]
                if other != after[n] and parent[2 * other] == -2:
                    parent[2 * other] = state
                    queue[size] = 2 * other
                    size += 1
        if goal < 0:
            break
        ways += 1
        _turn_over(goal, parent, before, after, used)
    side = np.zeros(nodes, np.int64)
    for n in range(nodes):
        if parent[2 * n + 1] != -2:
            side[n] = 2
        elif parent[2 * n] != -2:
            side[n] = 1
    return ways, side


@compile_cached
def _turn_over(goal, parent, before, after, used):  # type: ignore[no-untyped-def]
    """Take the way that the search found, and give back the pieces of ways that it undoes."""
    # The states first to last: new arcs are set after old ones are given back.
    count = 0
    state = goal
    while state >= 0:
        count += 1
        state = parent[state]
    trail = np.empty(count, np.int64)
    state = goal
    for k in range(count - 1, -1, -1):
        trail[k] = state
        state = parent[state]
    for k in range(count - 1):
        a = trail[k]
        b = trail[k + 1]
        if a & 1 == 1 and b & 1 == 0 and a >> 1 == b >> 1:
            # Out of a node and back in: no way passes it any more.
            used[a >> 1] = False
            before[a >> 1] = -1
            after[a >> 1] = -1
    for k in range(count - 1):
        a = trail[k]
        b = trail[k + 1]
        if a & 1 == 0 and b & 1 == 1 and a >> 1 == b >> 1:
            used[a >> 1] = True
    for k in range(count - 1):
        a = trail[k]
        b = trail[k + 1]
        if a & 1 == 1 and b & 1 == 0 and a >> 1 != b >> 1:
            after[a >> 1] = b >> 1
            before[b >> 1] = a >> 1


@compile_cached
def measure_steps(columns, rows, free, cells):  # type: ignore[no-untyped-def]
    """Return the least steps from some cells to every free cell, (cells,) int; the number of cells where none lead.

    Parameters
    ----------
    columns, rows : int
    free : (layers * rows * columns,) bool
    cells : (n,) int
    """
    layer = columns * rows
    away = np.full(free.size, free.size, np.int64)
    queue = np.empty(free.size, np.int64)
    size = 0
    for n in range(cells.size):
        if free[cells[n]] and away[cells[n]] == free.size:
            away[cells[n]] = 0
            queue[size] = cells[n]
            size += 1
    head = 0
    while head < size:
        cell = queue[head]
        head += 1
        x = cell % columns
        y = (cell // columns) % rows
        for d in range(6):
            if d == 0 and x + 1 < columns:
                other = cell + 1
            elif d == 1 and y + 1 < rows:
                other = cell + columns
            elif d == 2 and x > 0:
                other = cell - 1
            elif d == 3 and y > 0:
                other = cell - columns
            elif d == 4 and cell >= layer:
                other = cell - layer
            elif d == 5 and cell + layer < free.size:
                other = cell + layer
            else:
                continue
            if free[other] and away[other] == free.size:
                away[other] = away[cell] + 1
                queue[size] = other
                size += 1
    return away
