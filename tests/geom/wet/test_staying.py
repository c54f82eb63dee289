"""The count over rows of voxels against the plain flood over all of them."""

from __future__ import annotations

import heapq
import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from geom.wet.flooding import NEVER
from geom.wet.links import join_links
from geom.wet.pieces import label_pieces, measure_pieces
from geom.wet.staying import count_staying, find_runs
from geom.wet.voxels import voxels_of_mask


def flood_plainly(voxels, heights, seeds, links):
    """Return the level of each voxel by the textbook's search, voxel by voxel."""
    count = voxels.count
    levels = np.full(count + len(links.heights), NEVER, np.float32)
    waiting = []
    for v in seeds:
        levels[v] = heights[v]
        waiting.append((float(heights[v]), int(v)))
    heapq.heapify(waiting)
    while waiting:
        level, v = heapq.heappop(waiting)
        if level > levels[v]:
            continue
        if v >= count:
            k = v - count
            others = [
                (int(u), float(heights[u])) for u in links.members[links.starts[k] : links.starts[k + 1]]
            ]
        else:
            others = [(int(u), float(heights[u])) for u in voxels.beside[v] if u >= 0]
            k = int(links.link_of[v])
            if k >= 0:
                others.append((count + k, float(links.heights[k])))
        for u, height in others:
            if max(level, height) < levels[u]:
                levels[u] = max(level, height)
                heapq.heappush(waiting, (float(levels[u]), u))
    return levels[:count]


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_rows_count_what_voxels_do(data):
    """Any grid, attitude, mask, exits and a link: the same number, at all depths and sizes that are left out."""
    shape = data.draw(st.tuples(st.integers(1, 6), st.integers(1, 6), st.integers(1, 7)))
    wet = np.array(data.draw(st.lists(st.booleans(), min_size=math.prod(shape), max_size=math.prod(shape))))
    wet[0] = True
    voxels = voxels_of_mask(wet.reshape(shape), 1.0)
    if data.draw(st.booleans()):
        voxels = voxels_of_mask(np.ones(shape, bool) | wet.reshape(shape), 1.0)
    right, front = (
        data.draw(st.floats(-3.2, 3.2)),
        data.draw(st.sampled_from([0.0, 1e-4, 0.3, 1.0, math.pi / 2])),
    )
    way = (math.sin(right) * math.cos(front), math.cos(right) * math.cos(front), math.sin(front))
    heights = voxels.elevations(way)
    some = st.lists(st.integers(0, voxels.count - 1), unique=True, max_size=3)
    seeds = np.array(data.draw(some), np.int32)
    linked = np.array(data.draw(some), np.int32)
    groups = [linked] if len(linked) > 1 else []
    passed = data.draw(st.floats(-6, 6))
    links = join_links(voxels.count, groups, [passed] * len(groups))
    mask = np.array(data.draw(st.lists(st.booleans(), min_size=voxels.count, max_size=voxels.count)))
    leave = data.draw(st.booleans())
    least_depth, least_count = data.draw(st.sampled_from([(-1.0, 0), (0.7, 0), (-1.0, 3), (1.5, 4)]))

    levels = flood_plainly(voxels, heights, seeds, links)
    labels = label_pieces(voxels, (levels > heights) & ~(mask & leave))
    pieces = measure_pieces(voxels, labels, heights, levels)
    shut = levels[pieces.deepest] >= NEVER
    kept = shut | ((pieces.depths > np.float32(least_depth)) & (pieces.counts >= least_count))
    runs = find_runs(voxels, mask)
    found = count_staying(runs, heights, seeds, links, leave, least_depth, least_count)
    assert found == pieces.counts[kept].sum()


def test_rows_are_all_voxels_once():
    mask = np.random.default_rng(3).random((5, 6, 7)) < 0.7
    voxels = voxels_of_mask(mask, 1.0)
    marked = np.arange(voxels.count) % 4 == 0
    runs = find_runs(voxels, marked)
    assert runs.first[0] == 0
    assert runs.first[-1] == voxels.count
    for k, (first, last) in enumerate(zip(runs.first[:-1], runs.first[1:], strict=True)):
        held = voxels.cells[first:last]
        assert (held[:, :2] == held[0, :2]).all()
        assert (np.diff(held[:, 2]) == 1).all()
        assert (marked[first:last] == runs.marked[k]).all()
        assert (runs.run_of[first:last] == k).all()
    # Each touch is told from both sides.
    pairs = {
        (k, int(t))
        for k in range(len(runs.marked))
        for t in runs.touches[runs.starts[k] : runs.starts[k + 1], 0]
    }
    assert pairs == {(t, k) for k, t in pairs}
