"""Lagrange's equations of the vehicle, written a second time: kinetic energy by sympy, forces by virtual work.

Coordinates (10): X, Y, Z of the sprung centre of mass P; yaw, pitch, roll (R = Rz Ry Rx); heave and roll of both axles.
Kinetic energy has the same one approximation as the kernels: an axle turns relative to the body by the vector
(roll, pitch channel, yaw channel) and keeps its inertia along body axes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
import sympy as sp

Array = np.ndarray[tuple[int, ...], np.dtype[np.complex128]]
CUBIC = [(i, j) for i in range(4) for j in range(4 - i)]


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
    """Compiled expressions of one body or axle with its 8 coordinates."""

    momentum: Callable[..., list[complex]]
    slope: Callable[..., list[complex]]
    wheel: Callable[..., list[complex]]
    wheel_jacobian: Callable[..., list[list[complex]]]
    spin: Callable[..., list[list[complex]]]
    axis: Callable[..., list[complex]]


@cache
def build() -> tuple[Symbols, Callable[..., list[complex]], Callable[..., list[complex]]]:
    """Return the axle's expressions, and the body's momentum and slope of kinetic energy."""
    q = sp.symbols("X Y Z psi theta phi h r")
    u = sp.symbols("dX dY dZ dpsi dtheta dphi dh dr")
    psi, theta, phi, h, r = q[3:]
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

    # the axle: four cubics, place of P and of the design height, half track
    channels = [sp.symbols(f"{n}0:{len(CUBIC)}") for n in ("x", "y", "t", "d")]
    px, py, pz, z0, half, side = sp.symbols("px py pz z0 half side")
    cx, cy, tau, delta = (cubic(c, h, r) for c in channels)
    centre = sp.Matrix([cx - px, cy - py, z0 + h - pz])
    place = sp.Matrix(q[:3]) + rot * centre
    speed = place.jacobian(q) * sp.Matrix(u)
    turn = sp.Matrix([r, tau, delta])
    axle_omega = omega + turn.jacobian([h, r]) * sp.Matrix(u[6:])
    energy = mass / 2 * speed.dot(speed) + sum(inertia[i] * axle_omega[i] ** 2 for i in range(3)) / 2
    parameters = (mass, *inertia[:3], px, py, pz, z0, half, *(c for channel in channels for c in channel))
    arguments = (q, u, parameters)
    axis = sp.Matrix([tau * sp.sin(r) - delta * sp.cos(r), sp.cos(r), sp.sin(r)])
    wheel = sp.Matrix(q[:3]) + rot * (centre + side * half * axis)
    return (
        Symbols(
            momentum=sp.lambdify(arguments, [sp.diff(energy, d) for d in u], "numpy", cse=True),
            slope=sp.lambdify(arguments, [sp.diff(energy, x) for x in q], "numpy", cse=True),
            wheel=sp.lambdify((q, parameters, side), list(wheel), "numpy", cse=True),
            wheel_jacobian=sp.lambdify((q, parameters, side), wheel.jacobian(q).tolist(), "numpy", cse=True),
            # angular velocity of the axle in world axes over the coordinates' rates
            spin=sp.lambdify((q, parameters), (rot * axle_omega).jacobian(u).tolist(), "numpy", cse=True),
            axis=sp.lambdify((q, parameters), list(rot * axis), "numpy", cse=True),
        ),
        body_momentum,
        body_slope,
    )
