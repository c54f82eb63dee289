"""What blocks a cell, by name, for channels of any width."""

from __future__ import annotations

import numpy as np

from layouts.routing.instance import DX, DY, Instance


def spread_labels(instance: Instance, blocked: np.ndarray) -> np.ndarray:
    """Return the labels of blocked cells, each without one given that of the nearest cell that has one.

    An instance's labels are those of its first class; wider channels are kept off farther out.

    Parameters
    ----------
    instance : Instance
        With labels.
    blocked : (cells,) bool

    Returns
    -------
    (cells,) int
        Index into `label_names`; -1 where no labelled cell lies beside, if only by way of other blocked cells.
    """
    assert instance.labels is not None
    shape = (instance.layers, instance.rows, instance.columns)
    labels, waiting = instance.labels.reshape(shape).copy(), blocked.reshape(shape)
    while True:
        bare = waiting & (labels < 0)
        padded = np.pad(labels, ((0, 0), (1, 1), (1, 1)), constant_values=-1)
        near = np.max(
            [
                padded[:, 1 + y : 1 + y + shape[1], 1 + x : 1 + x + shape[2]]
                for x, y in zip(DX, DY, strict=True)
            ],
            axis=0,
        )
        found = bare & (near >= 0)
        if not found.any():
            return labels.reshape(-1)
        labels[found] = near[found]
