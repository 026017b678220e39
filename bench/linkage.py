"""Times of a 41 x 21 heave-roll map (positions and exact slopes) of the invented axles, on one thread.

Run with ``python bench/linkage.py``. Beside each time stands its ratio to SciPy's ``least_squares`` on the same
compiled residuals with the exact Jacobian, each node started from its solved neighbour, in the same run: it finds
positions only, and its time holds the Python calls that it needs.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from functools import partial

import numpy as np
from scipy.optimize import least_squares

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, BushRates, axle_map, build_axle, sweep
from tussock.mechanics.linkage.diagnosis import evaluate
from tussock.mechanics.linkage.solver import plan_grid

# The invented rescue wagon (Tarn), and a rear axle with one central upper link.
FRONT = {
    "wheel_centre": (0.0, 0.750, 0.361), "arm_chassis": (-0.885, 0.412, 0.432), "arm_axle_front": (0.082, 0.428, 0.333),
    "arm_axle_rear": (-0.088, 0.428, 0.349), "track_rod_axle": (0.118, -0.458, 0.352),
    "track_rod_chassis": (0.118, 0.424, 0.424), "spring_axle": (0.004, 0.462, 0.432),
    "spring_chassis": (0.002, 0.458, 0.722), "damper_axle": (-0.062, 0.545, 0.318),
    "damper_chassis": (-0.030, 0.470, 0.786), "stop_axle": (0.004, 0.462, 0.500), "stop_chassis": (0.002, 0.458, 0.642),
}  # fmt: skip
STEERING = {
    "king_pin_lower": (0.006, 0.642, 0.258), "king_pin_upper": (-0.005, 0.612, 0.462),
    "tie_rod_left": (-0.158, 0.665, 0.338), "drag_link_axle": (0.176, -0.575, 0.356),
    "drag_link_pitman": (0.176, 0.372, 0.436),
}  # fmt: skip
REAR = {
    "wheel_centre": (-2.700, 0.750, 0.361), "lower_link_axle": (-2.688, 0.478, 0.302),
    "lower_link_chassis": (-1.934, 0.436, 0.372), "upper_link_axle": (-2.706, 0.318, 0.498),
    "upper_link_chassis": (-2.262, 0.386, 0.521), "track_rod_axle": (-2.832, 0.472, 0.398),
    "track_rod_chassis": (-2.832, -0.482, 0.458), "spring_axle": (-2.690, 0.470, 0.432),
    "spring_chassis": (-2.686, 0.466, 0.722), "damper_axle": (-2.784, 0.556, 0.300),
    "damper_chassis": (-2.660, 0.480, 0.762), "stop_axle": (-2.692, 0.432, 0.505),
    "stop_chassis": (-2.690, 0.430, 0.645),
}  # fmt: skip
THREE = {**REAR, "upper_link_axle": (-2.706, 0.02, 0.52), "upper_link_chassis": (-2.10, 0.02, 0.545)}
DEGREE = np.pi / 180.0
BUSHES = {
    "arm_chassis": BushRates(radial=6.0e6, axial=1.2e6, conical=28.0 / DEGREE, torsional=2.4 / DEGREE),
    "arm_axle_front": BushRates(radial=9.0e6, axial=1.8e6, conical=42.0 / DEGREE, torsional=3.2 / DEGREE),
    "arm_axle_rear": BushRates(radial=9.0e6, axial=1.8e6, conical=42.0 / DEGREE, torsional=3.2 / DEGREE),
}
HEAVE = np.linspace(-0.14, 0.14, 41)
ROLL = np.deg2rad(np.linspace(-14.0, 14.0, 21))


def arrays(table: dict[str, tuple[float, float, float]]) -> dict[str, Floats]:
    """Points as arrays."""
    return {name: np.array(point) for name, point in table.items()}


def axles() -> dict[str, Callable[[], Axle]]:
    """Builders of the axles that are timed."""
    return {
        "arms + track rod": lambda: build_axle("arms_track_rod", arrays(FRONT), wheel_radius=0.361, bushes=BUSHES),
        "arms + track rod, steered": lambda: build_axle(
            "arms_track_rod", arrays({**FRONT, **STEERING}), wheel_radius=0.361, bushes=BUSHES, steering=True
        ),
        "4 soft links + track rod": lambda: build_axle(
            "links_track_rod", arrays(REAR), wheel_radius=0.361, link_stiffness={"lower_link": 5e6, "upper_link": 4e6}
        ),
        "3 links + track rod, rigid": lambda: build_axle(
            "links_track_rod", arrays(THREE), wheel_radius=0.361, central={"upper_link"}
        ),
    }


def thread_ms(work: Callable[[], object], times: int = 20) -> tuple[float, float]:
    """Best and median thread time [ms]."""
    taken = []
    for _ in range(times):
        start = time.thread_time()
        work()
        taken.append(1e3 * (time.thread_time() - start))
    return min(taken), statistics.median(taken)


def scipy_node(axle: Axle, q0: Floats, lam0: Floats, rot0: Floats, held: Floats) -> Floats:
    """Coordinates of one node by `least_squares` on the gradient and the hard rows, exact KKT matrix as Jacobian."""
    t = axle.linkage.tables
    free, m = t.free, lam0.size
    scale = np.concatenate([1.0 / t.scale[free], np.full(m, 1e4)])
    weight = np.concatenate([np.full(free.size, 1e-6), np.ones(m)])

    def state(x: Floats) -> Floats:
        q = q0.copy()
        q[t.held] = held
        q[free] += x[: free.size]
        return q

    def residual(x: Floats) -> Floats:
        here = evaluate(axle.linkage, state(x), rot0, lam0 + x[free.size :])
        return weight * np.concatenate([here.gradient[free], here.residual])

    def jacobian(x: Floats) -> Floats:
        here = evaluate(axle.linkage, state(x), rot0, lam0 + x[free.size :])
        g = here.jacobian[:, free]
        return weight[:, None] * np.block([[here.hessian[np.ix_(free, free)], g.T], [g, np.zeros((m, m))]])

    first = np.zeros(free.size + m)
    fit = least_squares(
        residual, first, jac=jacobian, x_scale=scale, method="lm", xtol=1e-10, ftol=1e-14, gtol=1e-14
    )  # fmt: skip
    return state(fit.x)


def scipy_map(axle: Axle, stride: int = 6) -> float:
    """Thread time of the same march by `least_squares` [ms], scaled up from every `stride`-th node."""
    t = axle.linkage.tables
    plan = plan_grid(HEAVE, ROLL)
    solved = axle.solve(HEAVE, ROLL)
    # rotation vectors of free bodies count from another attitude there, so they are not compared
    turns = {k for b in range(t.bi.shape[0]) if t.bi[b, 0] == 1 for k in range(t.bi[b, 2] + 3, t.bi[b, 2] + 6)}
    compared = [k for k in range(axle.linkage.start.size) if k not in turns]
    taken, count = 0.0, 0
    for i in range(0, HEAVE.size, stride):
        for j in range(1, ROLL.size, stride):
            near, goal = i * ROLL.size + j - 1, i * ROLL.size + j
            start = time.thread_time()
            found = scipy_node(
                axle, solved.coordinates[near], solved.multipliers[near], solved.rotation[near], solved.inputs[goal]
            )  # fmt: skip
            taken += time.thread_time() - start
            count += 1
            if np.abs(found - solved.coordinates[goal])[compared].max() > 1e-6:
                raise SystemExit("least_squares found another pose; the comparison is void")
    return 1e3 * taken * plan.inputs.shape[0] / count


def main() -> None:
    """Print the table."""
    start = time.perf_counter()
    for make in axles().values():
        make()
    print(f"loading or compiling the kernels: {time.perf_counter() - start:.1f} s")
    print(f"{HEAVE.size} x {ROLL.size} nodes, thread time in ms, best / median of 20; SciPy: least_squares (lm)")
    print(
        f"{'layout':28}{'solve':>16}{'axle_map':>16}{'sweep':>16}{'build':>14}{'steps/node':>12}{'SciPy':>9}{'ratio':>7}"
    )
    for name, make in axles().items():
        axle = make()
        solved = axle.solve(HEAVE, ROLL)
        solve = thread_ms(partial(axle.solve, HEAVE, ROLL))
        full = thread_ms(partial(axle_map, axle, HEAVE, ROLL))
        curves = thread_ms(partial(sweep, axle, HEAVE, ROLL))
        build = thread_ms(make, 50)
        theirs = scipy_map(axle)
        print(
            f"{name:28}{solve[0]:8.1f} /{solve[1]:6.1f}{full[0]:8.1f} /{full[1]:6.1f}{curves[0]:8.1f} /{curves[1]:6.1f}"
            f"{build[0]:7.2f} /{build[1]:5.2f}{solved.iterations.mean():12.2f}{theirs:9.0f}{theirs / solve[0]:7.0f}"
        )


if __name__ == "__main__":
    main()
