"""A leaf spring as a beam of large deflections, written without the linkage: an outside check of the three-link model.

Each half is an elastica from its eye (no moment) to the clamp, integrated with SciPy; eyes without friction, a rigid
shackle, the clamp free to pitch. All in the plane of the spring, x forward, z up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import root

from tussock.mechanics.arrays import Floats


@dataclass(frozen=True)
class Half:
    """A cantilever: length [m], bending stiffness at the clamp [N m^2], what it is, free curvature [1/m], pointing."""

    length: float
    stiffness: float
    kind: Literal["section", "strength"]
    curvature: float
    outward: float

    @property
    def rate(self) -> float:
        """Load at the eye per its deflection, small [N/m]."""
        return (3.0 if self.kind == "section" else 2.0) * self.stiffness / self.length**3


def eye_path(half: Half, force: Floats, eye_angle: float) -> tuple[Floats, float]:
    """From the eye to the clamp: place of the eye seen from the clamp's edge, and the leaf's angle there.

    The arc starts at the eye, with `eye_angle` as its slope above outward; `force` (outward, up) acts on the eye.
    """

    def slope(s: float, y: Floats) -> list[float]:
        angle, out, up = y
        # (out, up) is the place of the point seen from the eye; it lies inward, so both count from there
        moment = -out * force[1] + up * force[0]
        share = 1.0 if half.kind == "section" else max(s, 1e-9) / half.length
        bend = moment / (half.stiffness * share) + half.curvature
        return [-bend, -np.cos(angle), -np.sin(angle)]

    answer = solve_ivp(slope, (0.0, half.length), [eye_angle, 0.0, 0.0], rtol=1e-10, atol=1e-12)
    angle, out, up = answer.y[:, -1]
    return np.array([-out, -up]), float(angle)


@dataclass(frozen=True)
class Rest:
    """Place of the seat, its pitch (nose down positive), the load on the spring and the shackled eye."""

    x: float
    z: float
    pitch: float
    load: float
    eye: Floats


def whole_spring(
    front: Half,
    rear: Half,
    *,
    fixed_eye: Floats,
    pivot: Floats,
    shackle: float,
    clamp: float,
    start: Floats,
    z: float,
    push: float = 0.0,
    torque: float = 0.0,
) -> tuple[Rest, Floats]:
    """Equilibrium with the seat held at height `z`, free fore and aft and in pitch; shackle behind.

    `push` forward and `torque` (nose down) act on the seat.

    `start` and the second answer: eye angles, forces (outward, up) in the clamp's frame, x, pitch.
    """

    def state(y: Floats) -> tuple[Floats, float, Floats]:
        angles, forces, x, pitch = y[:2], 1e4 * y[2:6].reshape(2, 2), y[6], y[7]
        c, s = np.cos(pitch), np.sin(pitch)
        eyes, world, lever, open_ends = [], [], [], []
        for half, angle, force in zip((front, rear), angles, forces, strict=True):
            reach, at_clamp = eye_path(half, force, angle)
            local = np.array([half.outward * (0.5 * clamp + reach[0]), reach[1]])
            # pitch about y turns x towards -z
            eyes.append(np.array([x + c * local[0] + s * local[1], z - s * local[0] + c * local[1]]))
            own = np.array([half.outward * force[0], force[1]])
            world.append(np.array([c * own[0] + s * own[1], -s * own[0] + c * own[1]]))
            lever.append(local[0] * own[1] - local[1] * own[0])
            open_ends.append(at_clamp)
        link = eyes[1] - pivot
        total = world[0] + world[1]
        return np.array([
            *open_ends,
            *(eyes[0] - fixed_eye),
            np.linalg.norm(link) - shackle,
            1e-4 * (link[0] * world[1][1] - link[1] * world[1][0]) / shackle,
            1e-4 * (total[0] + push),
            1e-4 * (lever[0] + lever[1] - torque),
        ]), -float(total[1]), eyes[1]  # fmt: skip

    found = root(lambda y: state(y)[0], start, tol=1e-12)
    assert np.abs(state(found.x)[0]).max() < 1e-8, found.message
    _, load, eye = state(found.x)
    return Rest(x=float(found.x[6]), z=z, pitch=float(found.x[7]), load=load, eye=eye), found.x
