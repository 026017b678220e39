"""Lagrange's equations of the vehicle, written a second time: kinetic energy by sympy, forces by virtual work.

Coordinates (12): X, Y, Z of the sprung centre of mass P; yaw, pitch, roll (R = Rz Ry Rx); heave and roll of both axles;
steer of the front wheels, hand wheel. One axle has the first six, its heave, its roll and the steer.
The unsprung mass of an axle is m - n in the middle between its wheel centres and n / 2 at each of them; besides, each
wheel has its own inertia. Kinetic energy has the same one approximation as the kernels: a wheel turns relative to the
body by the vector (inclination, pitch, steer) and keeps its inertia along body axes. Steered wheels turn further, about
king pins that turn and lean with them: their inertia about them adds 1/2 I ((Oz + s')^2 - Oz^2).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import sympy as sp

Array = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]
CUBIC = [(i, j) for i in range(4) for j in range(4 - i)]
#: Channels that shape the motion of the masses, the left and the right wheel's.
SHAPE = ("x0", "x1", "y0", "y1", "lean0", "lean1", "steer0", "steer1", "pitch")


def cubic(coefficients: object, h: object, r: object) -> object:
    """Return the cubic polynomial in h and r."""
    return sum(c * h**i * r**j for c, (i, j) in zip(coefficients, CUBIC, strict=True))  # type: ignore[operator, arg-type, misc]


def _rotation(psi: sp.Expr, theta: sp.Expr, phi: sp.Expr) -> sp.Matrix:
    z = sp.Matrix([[sp.cos(psi), -sp.sin(psi), 0], [sp.sin(psi), sp.cos(psi), 0], [0, 0, 1]])
    y = sp.Matrix([[sp.cos(theta), 0, sp.sin(theta)], [0, 1, 0], [-sp.sin(theta), 0, sp.cos(theta)]])
    x = sp.Matrix([[1, 0, 0], [0, sp.cos(phi), -sp.sin(phi)], [0, sp.sin(phi), sp.cos(phi)]])
    return z * y * x


@dataclass(frozen=True)
class Symbols:
    """Compiled expressions of one body or axle with its 9 coordinates."""

    momentum: Callable[..., list[complex]]
    slope: Callable[..., list[complex]]
    wheel: Callable[..., list[complex]]
    centre_jacobian: Callable[..., list[list[complex]]]
    wheel_jacobian: Callable[..., list[list[complex]]]
    spin: Callable[..., list[list[complex]]]
    turned: Callable[..., list[list[complex]]]


@cache
def build() -> tuple[Symbols, Callable[..., list[complex]], Callable[..., list[complex]]]:
    """Return the axle's expressions, and the body's momentum and slope of kinetic energy."""
    q = sp.symbols("X Y Z psi theta phi h r s")
    u = sp.symbols("dX dY dZ dpsi dtheta dphi dh dr ds")
    psi, theta, phi, h, r, steer = q[3:]
    rot = _rotation(psi, theta, phi)
    omega = sp.Matrix(
        [
            u[5] - u[3] * sp.sin(theta),
            u[4] * sp.cos(phi) + u[3] * sp.cos(theta) * sp.sin(phi),
            -u[4] * sp.sin(phi) + u[3] * sp.cos(theta) * sp.cos(phi),
        ]
    )
    mass, *inertia = sp.symbols("m Ixx Iyy Izz Ixy Ixz Iyz")
    tensor = sp.Matrix(
        [
            [inertia[0], inertia[3], inertia[4]],
            [inertia[3], inertia[1], inertia[5]],
            [inertia[4], inertia[5], inertia[2]],
        ]
    )
    body_energy = mass / 2 * (u[0] ** 2 + u[1] ** 2 + u[2] ** 2) + (omega.T * tensor * omega)[0] / 2
    body_arguments = (q, u, (mass, *inertia))
    body_momentum = sp.lambdify(body_arguments, [sp.diff(body_energy, d) for d in u[:6]], "numpy", cse=True)
    body_slope = sp.lambdify(body_arguments, [sp.diff(body_energy, x) for x in q[:6]], "numpy", cse=True)

    # the axle: nine cubics, place of P and of the design height, half track, mass at the wheels
    channels = {n: sp.symbols(f"{n}_0:{len(CUBIC)}") for n in SHAPE}
    px, py, pz, z0, half, lump, king = sp.symbols("px py pz z0 half lump king")
    # king pins: caster, inclination as tangents, offsets of the wheel centre; 1 if the wheels steer
    caster, tilt, ahead, inward, steers, pitch, *leans = sp.symbols("caster tilt ahead inward steers pitch lean0 lean1")
    value = {n: cubic(c, h, r) for n, c in channels.items()}
    places, spins, centres = [], [], []
    for s, sign in ((0, 1), (1, -1)):
        arm = sp.Matrix([value[f"x{s}"] - px, value[f"y{s}"] - py, z0 + h + sign * half * sp.sin(r) - pz])
        centres.append(sp.Matrix(q[:3]) + rot * arm)
        # to second order in the angle about the king pin: r + s t x r + s^2/2 (t x (t x r)) upwards
        lies = steers * (value["pitch"] - pitch) - caster  # the king pins turn with the axle
        leaned = steers * (value[f"lean{s}"] - leans[s])
        turning = sp.Matrix([lies, -sign * tilt - leaned, 1])
        offset = sp.Matrix([-ahead, sign * inward, 0])
        first = turning.cross(offset)
        moved = steer * first + steer**2 / 2 * sp.Matrix([0, 0, turning.cross(first)[2]])
        places.append(sp.Matrix(q[:3]) + rot * (arm + moved))
        turn = sp.Matrix([value[f"lean{s}"], value["pitch"], value[f"steer{s}"]])
        spins.append(omega + turn.jacobian([h, r]) * sp.Matrix(u[6:8]))
    speeds = [place.jacobian(q) * sp.Matrix(u) for place in centres]
    middle = (speeds[0] + speeds[1]) / 2
    energy = (mass - lump) / 2 * middle.dot(middle) + sum(lump / 4 * v.dot(v) for v in speeds)
    energy += sum(inertia[i] / 4 * spin[i] ** 2 for spin in spins for i in range(3))
    energy += sum(king / 4 * ((spin[2] + u[8]) ** 2 - spin[2] ** 2) for spin in spins)
    parameters = (
        mass,
        *inertia[:3],
        px,
        py,
        pz,
        z0,
        half,
        lump,
        king,
        caster,
        tilt,
        ahead,
        inward,
        steers,
        pitch,
        *leans,
        *(c for channel in channels.values() for c in channel),
    )
    arguments = (q, u, parameters)

    def chosen(pair: list[sp.Matrix]) -> sp.Matrix:
        # side 1 is the left, -1 the right, 0 the mean of both
        return (1 + side) / 2 * pair[0] + (1 - side) / 2 * pair[1]

    side = sp.Symbol("side")
    wheel = chosen(places)
    # what the tyre's forces turn: the carrier, and the knuckle about forward and up
    about = steers * steer * sp.Matrix([steers * (value["pitch"] - pitch) - caster, 0, 1])
    about = about.jacobian(q) * sp.Matrix(u)
    carried = [rot * (spin + about) for spin in spins]
    return (
        Symbols(
            momentum=sp.lambdify(arguments, [sp.diff(energy, d) for d in u], "numpy", cse=True),
            slope=sp.lambdify(arguments, [sp.diff(energy, x) for x in q], "numpy", cse=True),
            wheel=sp.lambdify((q, parameters, side), list(wheel), "numpy", cse=True),
            centre_jacobian=sp.lambdify((q, parameters), chosen(centres).subs(side, 0).jacobian(q).tolist(), "numpy"),
            wheel_jacobian=sp.lambdify((q, parameters, side), wheel.jacobian(q).tolist(), "numpy", cse=True),
            # angular velocity of the wheel's carrier in world axes over the coordinates' rates
            spin=sp.lambdify((q, parameters, side), (rot * chosen(spins)).jacobian(u).tolist(), "numpy", cse=True),
            turned=sp.lambdify((q, parameters, side), chosen(carried).jacobian(u).tolist(), "numpy", cse=True),
        ),
        body_momentum,
        body_slope,
    )
