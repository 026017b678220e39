"""C2 tables: uniform bicubic B-splines through the nodes of an axle map.

Piecewise-linear tables would pump energy into the motion, since a slope that jumps is not the slope of anything.
"""

from __future__ import annotations

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap

NODE_TOLERANCE = 1e-9  # largest miss at a node, in metres, radians or kilojoules


def _system(n: int) -> Floats:
    """Return the matrix from n + 2 coefficients to n values, third derivative continuous at the last inner nodes."""
    m = np.zeros((n + 2, n + 2))
    for i in range(n):
        m[i, i : i + 3] = (1.0 / 6.0, 4.0 / 6.0, 1.0 / 6.0)
    m[n, :5] = (1.0, -4.0, 6.0, -4.0, 1.0)
    m[n + 1, -5:] = (1.0, -4.0, 6.0, -4.0, 1.0)
    return m


def fit(values: Floats) -> Floats:
    """Return B-spline coefficients (nh + 2, nr + 2, nc) through values (nh, nr, nc) on a uniform grid.

    Raises
    ------
    SolverError
        If the spline misses a node, with the miss and the node.
    """
    nh, nr, nc = values.shape
    if nh < 4 or nr < 4:
        raise SolverError(f"a table needs at least 4 x 4 nodes, not {nh} x {nr}")
    padded = np.zeros((nh + 2, nr, nc))
    padded[:nh] = values
    along = np.linalg.solve(_system(nh), padded.reshape(nh + 2, -1)).reshape(nh + 2, nr, nc)
    wide = np.zeros((nr + 2, nh + 2, nc))
    wide[:nr] = np.moveaxis(along, 1, 0)
    both = np.linalg.solve(_system(nr), wide.reshape(nr + 2, -1)).reshape(nr + 2, nh + 2, nc)
    coefficients = np.ascontiguousarray(np.moveaxis(both, 0, 1))
    back = _values(coefficients)
    miss = np.abs(back - values)
    worst = float(miss.max())
    if not worst <= NODE_TOLERANCE * max(1.0, float(np.abs(values).max())):
        at = np.unravel_index(int(np.argmax(miss)), miss.shape)
        raise SolverError(f"the table's spline misses node {at[0]}, {at[1]} of channel {at[2]} by {worst:.3g}")
    return coefficients


def _values(c: Floats) -> Floats:
    w = np.array([1.0, 4.0, 1.0]) / 6.0
    rows = w[0] * c[:-2] + w[1] * c[1:-1] + w[2] * c[2:]
    return np.asarray(w[0] * rows[:, :-2] + w[1] * rows[:, 1:-1] + w[2] * rows[:, 2:], dtype=np.float64)


def cells(coefficients: Floats, grid: Floats) -> Floats:
    """Return the bicubic of every cell in powers of heave and roll from its first corner (nh - 1, nr - 1, 4, 4, nc).

    In powers a cell costs half the arithmetic of its B-splines and lies in one piece of memory; both are the same to
    rounding, since powers run over one cell only.

    Parameters
    ----------
    coefficients : array (nh + 2, nr + 2, nc)
        From `fit`.
    grid : array (8,)
        From `grid_row`.
    """
    basis = np.array([[1.0, 4.0, 1.0, 0.0], [-3.0, 0.0, 3.0, 0.0], [3.0, -6.0, 3.0, 0.0], [-1.0, 3.0, -3.0, 1.0]]) / 6.0
    heave, roll = (basis * (grid[i] ** np.arange(4))[:, None] for i in (1, 4))
    windows = np.lib.stride_tricks.sliding_window_view(coefficients, (4, 4), axis=(0, 1))
    return np.asarray(np.einsum("ik,hrckl,jl->hrijc", heave, windows, roll, optimize=True), dtype=np.float64)


def curve_cells(values: Floats, slopes: Floats, spacing: float) -> Floats:
    """Return a C1 curve's cells in powers of the place in each, counted in cells (n + 1, 4).

    The first and the last are the straight lines beyond its ends, a cell long where the curve begins.

    Parameters
    ----------
    values, slopes : array (n,)
        At even places.
    spacing : float
        Between them.
    """
    out = np.zeros((values.size + 1, 4))
    rise, slope = np.diff(values), slopes * spacing
    out[0, :2] = values[0] - slope[0], slope[0]
    out[1:-1, 0], out[1:-1, 1] = values[:-1], slope[:-1]
    out[1:-1, 2] = 3.0 * rise - 2.0 * slope[:-1] - slope[1:]
    out[1:-1, 3] = slope[:-1] + slope[1:] - 2.0 * rise
    out[-1, :2] = values[-1], slope[-1]
    return out


def channels(axle: AxleMap, energy: Floats) -> Floats:
    """Return the 16 channels of an axle map in the kernels' order (nh, nr, 16); `energy` (nh, nr) with the bar's."""
    parts = []
    for pair in (axle.wheel_x, axle.wheel_y, axle.inclination, axle.steer):
        parts += [0.5 * (pair[..., 0] + pair[..., 1]), 0.5 * (pair[..., 0] - pair[..., 1])]
    parts += [axle.pitch, energy]
    for pair in (axle.spring, axle.damper, axle.stop):
        parts += [pair[..., 0], pair[..., 1]]
    return np.ascontiguousarray(np.stack(parts, axis=2))


def grid_row(axle: AxleMap) -> Floats:
    """Return the kernels' grid row of a map; SolverError unless it is uniform."""
    row: list[float] = []
    for name, nodes in (("heave", axle.heave), ("roll", axle.roll)):
        steps = np.diff(nodes)
        if nodes.size < 4 or np.any(steps <= 0.0) or float(np.ptp(steps)) > 1e-9:
            raise SolverError(
                f"the {name} nodes of an axle map must rise evenly; their steps range over {np.ptp(steps):.3g}"
            )
        row += [float(nodes[0]), (nodes.size - 1) / float(nodes[-1] - nodes[0]), float(nodes.size - 1)]
    return np.array([*row, 1.0 / row[1], 1.0 / row[4]])
