"""What one more exit would clear: held to a flood for each place."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from geom.wet.cleared import find_cleared
from geom.wet.flooding import climb
from geom.wet.links import join_links
from geom.wet.voxels import WetVoxels, voxels_of_mask

SIZE = (5, 4, 3)


def staying(voxels: WetVoxels, heights: np.ndarray, seeds: np.ndarray, links) -> np.ndarray:
    return climb(voxels, heights, seeds, links) > heights


@settings(max_examples=60, deadline=None)
@given(
    arrays.arrays(bool, SIZE, elements=st.sampled_from([True, True, True, False])),
    arrays.arrays(np.float32, SIZE, elements=st.sampled_from([0.0, 1.0, 2.0, 3.0, 4.0])),
    st.lists(st.integers(0, 59), max_size=2),
    st.lists(st.integers(0, 59), min_size=2, max_size=3, unique=True),
    st.floats(0.0, 4.0, width=32),
    st.integers(0, 4),
)
def test_an_exit_clears_what_a_flood_says(mask, levels, seeds, linked, passed, mouth):
    voxels = voxels_of_mask(mask, 1.0)
    count = voxels.count
    if count < 2:
        return
    heights = levels[mask]
    members = np.unique([k % count for k in linked]).astype(np.int32)
    links = join_links(count, [members], [passed])
    exits = np.unique([k % count for k in seeds]).astype(np.int32)
    stays = staying(voxels, heights, exits, links)
    counted = stays & (np.arange(count) % 3 > 0)
    cleared = find_cleared(voxels, heights, stays, counted, links)
    for place in range(count):
        more = np.append(exits, place).astype(np.int32)
        after = staying(voxels, heights, more, links)
        assert cleared.counts[place] == np.count_nonzero(counted & ~after)
        if not stays[place]:
            continue
        # A mouth that lies further on: the way out climbs to its level.
        raised = heights.copy()
        raised[place] = max(raised[place], np.float32(mouth))
        after = staying(voxels, raised, more, links)
        others = counted & ~after
        others[place] = counted[place] and heights[place] >= mouth
        assert cleared.above(place, float(mouth)) == np.count_nonzero(others)
