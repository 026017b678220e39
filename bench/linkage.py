"""Times of a 41 x 21 map (positions, exact slopes, compliance) of the invented axles and wheels, on one thread.

Rigid axles over heave and roll, independent wheels over travel and steering input. Run with
``python bench/linkage.py``. Beside each time stands its ratio to SciPy's ``least_squares`` on the same compiled
residuals with the exact Jacobian, each node started from its solved neighbour, in the same run: it finds positions
only, and its time holds the Python calls that it needs.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from functools import partial

import numpy as np
from scipy.optimize import least_squares

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import (
    Axle,
    BushRates,
    LeafSprings,
    Wheel,
    build_axle,
    build_wheel,
    leaf_halves,
    sweep,
    sweep_wheel,
)
from tussock.mechanics.linkage.diagnosis import evaluate
from tussock.mechanics.linkage.solver import plan_grid
from tussock.mechanics.springs.leaf import LeafSpring

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
# The invented pick-up (Dunnock): rear axle on leaf springs, the same springs on a steered front axle, front wheels.
LEAF = {
    "wheel_centre": (-3.100, 0.780, 0.365), "fixed_eye": (-2.480, 0.560, 0.445), "shackle_eye": (-3.780, 0.560, 0.475),
    "shackle_pivot": (-3.765, 0.560, 0.600), "leaf_seat": (-3.100, 0.560, 0.430),
}  # fmt: skip
LEAF_FRONT = {
    **{name: (-3.1 - x, y, z) for name, (x, y, z) in LEAF.items()},
    **{name: point for name, point in STEERING.items() if not name.startswith("drag")},
    "drag_link_axle": (0.16, -0.62, 0.36), "drag_link_pitman": (0.16, 0.37, 0.44),
}  # fmt: skip
EYE = BushRates(radial=8.0e6, axial=1.2e6, conical=14.0 / DEGREE, torsional=0.8 / DEGREE)
EYES = dict.fromkeys(("fixed_eye", "shackle_eye", "shackle_pivot"), EYE)
WISHBONE = {
    "wheel_centre": (0.0, 0.780, 0.365), "lower_ball": (0.004, 0.706, 0.268), "upper_ball": (-0.018, 0.672, 0.528),
    "lower_arm_front": (0.128, 0.318, 0.296), "lower_arm_rear": (-0.212, 0.330, 0.288),
    "upper_arm_front": (0.086, 0.424, 0.533), "upper_arm_rear": (-0.128, 0.430, 0.513),
    "tie_rod_outer": (0.142, 0.726, 0.318), "tie_rod_inner": (0.136, 0.362, 0.335),
}  # fmt: skip
RELAY = {
    "pitman_shaft": (0.010, 0.300, 0.400), "pitman_ball": (0.166, 0.300, 0.350), "idler_shaft": (0.010, -0.300, 0.400),
    "idler_ball": (0.166, -0.300, 0.350),
}  # fmt: skip
STRUT = {
    **{name: point for name, point in WISHBONE.items() if not name.startswith("upper")},
    "strut_top": (-0.046, 0.596, 0.912), "strut_lower": (-0.010, 0.650, 0.420),
}  # fmt: skip
ARM_BUSHES = {
    f"{arm}_arm_{end}": BushRates(radial=6.0e6, axial=1.2e6, conical=24.0 / DEGREE, torsional=1.4 / DEGREE)
    for arm in ("lower", "upper")
    for end in ("front", "rear")
}
HEAVE = np.linspace(-0.14, 0.14, 41)
ROLL = np.deg2rad(np.linspace(-14.0, 14.0, 21))
TRAVEL = np.linspace(-0.09, 0.09, 41)
RACK = np.linspace(-0.06, 0.06, 21)
PITMAN = np.deg2rad(np.linspace(-25.0, 25.0, 21))


def arrays(table: dict[str, tuple[float, float, float]]) -> dict[str, Floats]:
    """Points as arrays."""
    return {name: np.array(point) for name, point in table.items()}


def leaves(*, turned: bool = False) -> LeafSprings:
    """Leaf springs of the pick-up, front for rear on the front axle."""
    front, rear = leaf_halves(
        LeafSpring(
            thicknesses=(0.007,) * 5, width=0.065, front_length=0.622, rear_length=0.682, full_length=2,
            clamp_length=0.12,
        )
    )  # fmt: skip
    if turned:
        front, rear = rear, front
    return LeafSprings(front=front, rear=rear, clamp=0.06, load=3200.0)


def suspensions() -> dict[str, Callable[[], Axle | Wheel]]:
    """Builders of what is timed."""
    wishbone, strut = arrays(WISHBONE), arrays(STRUT)
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
        "leaf springs": lambda: build_axle(
            "leaf_springs", arrays(LEAF), wheel_radius=0.365, bushes=EYES, leaf_springs=leaves()
        ),
        "leaf springs, steered": lambda: build_axle(
            "leaf_springs", arrays(LEAF_FRONT), wheel_radius=0.365, bushes=EYES, leaf_springs=leaves(turned=True),
            steering=True,
        ),
        "wishbone, rigid, rack": lambda: build_wheel("double_wishbone", wishbone, wheel_radius=0.365),
        "wishbone, bushed, rack": lambda: build_wheel(
            "double_wishbone", wishbone, wheel_radius=0.365, bushes=ARM_BUSHES
        ),
        "wishbone, bushed, relay rod": lambda: build_wheel(
            "double_wishbone", {**wishbone, **arrays(RELAY)}, wheel_radius=0.365, bushes=ARM_BUSHES, steering="relay"
        ),
        "strut, rigid, rack": lambda: build_wheel("strut", strut, wheel_radius=0.365),
    }  # fmt: skip


def grid_of(suspension: Axle | Wheel) -> tuple[Floats, Floats]:
    """Inputs of its map."""
    if isinstance(suspension, Axle):
        return HEAVE, ROLL
    return TRAVEL, PITMAN if suspension.steering == "relay" else RACK


def thread_ms(work: Callable[[], object], times: int = 20) -> tuple[float, float]:
    """Best and median thread time [ms]."""
    taken = []
    for _ in range(times):
        start = time.thread_time()
        work()
        taken.append(1e3 * (time.thread_time() - start))
    return min(taken), statistics.median(taken)


def scipy_node(axle: Axle | Wheel, q0: Floats, lam0: Floats, rot0: Floats, held: Floats) -> tuple[Floats, float]:
    """Coordinates of one node, and the largest force left open [N], by SciPy's `least_squares`.

    On the gradient and the hard rows, with the exact KKT matrix as Jacobian.
    """
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
    return state(fit.x), float(1e6 * np.abs(fit.fun[: free.size]).max())


def scipy_map(axle: Axle | Wheel, stride: int = 6) -> tuple[float, int, int]:
    """Thread time of the same march by `least_squares` [ms], scaled up from every `stride`-th node.

    Also the number of those nodes, and of those that it left with open forces (beside the toggle of a shackle).
    """
    t = axle.linkage.tables
    first, second = grid_of(axle)
    solved = axle.solve(first, second)
    # rotation vectors of free bodies count from another attitude there, so they are not compared
    turns = {k for b in range(t.bi.shape[0]) if t.bi[b, 0] == 1 for k in range(t.bi[b, 2] + 3, t.bi[b, 2] + 6)}
    compared = [k for k in range(axle.linkage.start.size) if k not in turns]
    taken, count, failed = 0.0, 0, 0
    for i in range(0, first.size, stride):
        for j in range(1, second.size, stride):
            near, goal = i * second.size + j - 1, i * second.size + j
            start = time.thread_time()
            found, left = scipy_node(
                axle, solved.coordinates[near], solved.multipliers[near], solved.rotation[near], solved.inputs[goal]
            )  # fmt: skip
            taken += time.thread_time() - start
            count += 1
            if left > 1e-3:
                failed += 1
            elif np.abs(found - solved.coordinates[goal])[compared].max() > 1e-6:
                raise SystemExit("least_squares found another pose; the comparison is void")
    return 1e3 * taken * plan_grid(first, second).inputs.shape[0] / count, count, failed


def main() -> None:
    """Print the table."""
    start = time.perf_counter()
    for make in suspensions().values():
        first, second = grid_of(make())
        make().solve(first[20:22], second[10:12])
    print(f"loading or compiling the kernels: {time.perf_counter() - start:.1f} s")
    print(
        "41 x 21 nodes, thread time in ms, best / median of 20; map: positions, slopes, compliance of the axle or wheel"
    )
    print("SciPy: least_squares (lm, exact Jacobian), positions only; ratio to the map")
    titles = (("layout", -30), ("map", 16), ("all curves", 16), ("build", 14), ("unknowns", 9), ("steps", 12))
    print("".join(f"{word:{'<' if w < 0 else '>'}{abs(w)}}" for word, w in (*titles, ("SciPy", 9), ("ratio", 7))))
    for name, make in suspensions().items():
        suspension = make()
        first, second = grid_of(suspension)
        carrier = "axle" if isinstance(suspension, Axle) else "upright"
        solved = suspension.solve(first, second)
        full = thread_ms(partial(suspension.solve, first, second, loaded=(carrier,)))
        if isinstance(suspension, Axle):
            curves = thread_ms(partial(sweep, suspension, first, second))
        else:
            curves = thread_ms(partial(sweep_wheel, suspension, first, second))
        build = thread_ms(make, 50)
        theirs, count, failed = scipy_map(suspension)
        size = suspension.linkage.tables.free.size + len(suspension.linkage.hard_rows)
        print(
            f"{name:30}{full[0]:8.1f} /{full[1]:6.1f}{curves[0]:8.1f} /{curves[1]:6.1f}"
            f"{build[0]:7.2f} /{build[1]:5.2f}{size:9d}{solved.iterations.mean():12.2f}{theirs:9.0f}"
            f"{theirs / full[0]:7.0f}" + (f"  (open at {failed} of {count})" if failed else "")
        )


if __name__ == "__main__":
    main()
