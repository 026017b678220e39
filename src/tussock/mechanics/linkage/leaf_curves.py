"""What the leaf springs of an axle do over heave and roll: shackles, loads, and where a shackle comes in line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.axle import Axle
from tussock.mechanics.linkage.model import CHASSIS, Joint
from tussock.mechanics.linkage.solution import Solution

SIDES = ("left", "right")
#: Step of the search for a shackle in line [m].
SEARCH_STEP = 0.005


@dataclass(frozen=True, kw_only=True)
class LeafCurves:
    """Leaf springs over a grid; arrays (nh, nr, 2), left and right.

    Attributes
    ----------
    shackle_angle : array
        Between the shackle and the half of the spring that it holds, at their eye [rad]; at pi they lie in line, and
        the spring can pull no further.
    shackle_swing : array
        Turn of the shackle since stock, its lower end rearward positive [rad].
    load : array
        Upward force of each spring on the body [N].
    friction : float
        Half-width of that load's band by friction between the leaves [N].
    eye_load, shackle_load : array
        Size of the force at the fixed eye and in the shackle [N].
    span : array
        Distance of the eyes [m].
    """

    shackle_angle: Floats
    shackle_swing: Floats
    load: Floats
    friction: float
    eye_load: Floats
    shackle_load: Floats
    span: Floats


@dataclass(frozen=True, kw_only=True)
class ShackleLimit:
    """Where the shackle comes near the line of the half spring that it holds.

    Attributes
    ----------
    heave : float
        Axle heave there [m].
    margin : float
        Angle left between them [rad].
    rate, stock_rate : float
        Heave rate of the springs there and in the stock pose [N/m]; it grows
        without bound as they come in line.
    reason : str
        Plain words.
    """

    heave: float
    margin: float
    rate: float
    stock_rate: float
    reason: str


def leaf_curves(axle: Axle, heave: Floats, roll: Floats, *, steer: float = 0.0) -> LeafCurves:
    """Shackles and loads of an axle on leaf springs over a grid; heave [m], roll [rad].

    Raises
    ------
    InputError
        The axle has no leaf springs.
    SolverError
        A node that cannot be reached.
    """
    _check(axle)
    h, r = np.atleast_1d(np.asarray(heave, dtype=np.float64)), np.atleast_1d(np.asarray(roll, dtype=np.float64))
    s = axle.solve(h, r, steer)

    def grid(values: list[Floats]) -> Floats:
        return np.ascontiguousarray(np.stack(values, axis=1).reshape(h.size, r.size, 2))

    lines = [_lines(axle, s, side) for side in SIDES]
    swings, loads, eyes, shackles = [], [], [], []
    for side, (shackle, _, _) in zip(SIDES, lines, strict=True):
        stock = _lines(axle, axle.home, side)[0][0]
        lean, was = np.arctan2(-shackle[:, 0], -shackle[:, 2]), np.arctan2(-stock[0], -stock[2])
        swings.append(np.asarray(np.angle(np.exp(1j * (lean - was)))))
        fixed, held = _force(axle, s, f"fixed_eye_{side}"), _force(axle, s, f"shackle_pivot_{side}")
        loads.append(fixed[:, 2] + held[:, 2])
        eyes.append(np.linalg.norm(fixed, axis=1))
        shackles.append(np.linalg.norm(held, axis=1))
    return LeafCurves(
        shackle_angle=grid([_between(a, b) for a, b, _ in lines]),
        shackle_swing=grid(swings),
        load=grid(loads),
        friction=axle.leaf_friction,
        eye_load=grid(eyes),
        shackle_load=grid(shackles),
        span=grid([np.linalg.norm(line, axis=1) for _, _, line in lines]),
    )


def shackle_limit(
    axle: Axle,
    *,
    margin: float = float(np.deg2rad(15.0)),
    growth: float = 3.0,
    droop: float = -0.25,
    roll: float = 0.0,
) -> ShackleLimit | None:
    """Heave in droop at which a shackle comes near the line of its half spring; None if it does not.

    Beyond, the spring pulls on the shackle along its own line: the rate shoots up, and the shackle may turn over.
    Margin and growth are common practice, no source.

    Parameters
    ----------
    axle : Axle
    margin : float
        Angle kept between shackle and half spring [rad].
    growth : float
        Rate over that in the stock pose that ends the travel even before [-].
    droop : float
        Lowest heave looked at [m].
    roll : float
        [rad].

    Returns
    -------
    ShackleLimit or None
        At the last heave that can be solved where the springs lock before either is reached.
    """
    _check(axle)
    stock_rate = float(axle.solve(np.zeros(1), np.zeros(1)).stiffness[0, 0, 0])

    def left(heave: float) -> tuple[float, float]:
        s = axle.solve(np.array([heave]), np.array([roll]))
        angles = [float(_between(*_lines(axle, s, side)[:2])[0]) for side in SIDES]
        return min(np.pi - a for a in angles), float(s.stiffness[0, 0, 0])

    def fine(state: tuple[float, float]) -> bool:
        return state[0] > margin and state[1] < growth * stock_rate

    good, last, locked = 0.0, left(0.0), ""
    while fine(last) and good > droop:
        try:
            last = left(good - SEARCH_STEP)
        except SolverError as error:
            locked = str(error)
            break
        good -= SEARCH_STEP
    if fine(last) and not locked:
        return None
    if not locked and good < 0.0:
        upper, lower = good + SEARCH_STEP, good
        for _ in range(30):
            middle = 0.5 * (upper + lower)
            upper, lower = (middle, lower) if fine(left(middle)) else (upper, middle)
        good = lower
    angle, rate = left(good)
    words = (
        f"the shackle is {np.rad2deg(angle):.1f} deg from the line of its half spring and the springs' rate is "
        f"{rate / stock_rate:.1f} times that in the stock pose"
    )
    return ShackleLimit(
        heave=good, margin=angle, rate=rate, stock_rate=stock_rate, reason=words + (f"; {locked}" if locked else "")
    )


def _check(axle: Axle) -> None:
    if "fixed_leaf_left" not in axle.linkage.index:
        raise InputError(f"{axle.name}: the layout '{axle.layout}' has no leaf springs")


def _joint(axle: Axle, name: str) -> Joint:
    return next(e for e in axle.linkage.elements if e.name == name and isinstance(e, Joint))


def _lines(axle: Axle, s: Solution, side: str) -> tuple[Floats, Floats, Floats]:
    """Vectors from the shackled eye to the shackle's pivot, to its half's joint and to the fixed eye (np, 3) [m]."""
    eye = s.point(f"shackle_{side}", _joint(axle, f"shackle_eye_{side}").point_b)
    pivot = s.point(f"shackle_{side}", _joint(axle, f"shackle_pivot_{side}").point_a)
    bend = s.point(f"shackle_leaf_{side}", _joint(axle, f"shackle_leaf_{side}").point_a)
    fixed = s.point(f"fixed_leaf_{side}", _joint(axle, f"fixed_eye_{side}").point_a)
    return pivot - eye, bend - eye, fixed - eye


def _between(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), np.einsum("pi,pi->p", a, b)))


def _force(axle: Axle, s: Solution, name: str) -> Floats:
    """Force of a bush on the chassis (np, 3) [N]."""
    joint = _joint(axle, name)
    assert joint.body_b == CHASSIS
    axes = np.stack([s.direction(joint.body_a, axis) for axis in joint.frame_a], axis=1)
    return -np.asarray(np.einsum("pi,pij->pj", s.joint_loads(name)[:, :3], axes))
