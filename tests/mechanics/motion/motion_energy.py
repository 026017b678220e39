"""Mechanical energy of a vehicle from its state, written apart from the kernels."""

from __future__ import annotations

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Packed, Vehicle
from tussock.mechanics.motion import kernels as k


def body_axes(theta: float, phi: float) -> Floats:
    """Return the rotation from body axes to the yaw frame."""
    st, ct, sp, cp = np.sin(theta), np.cos(theta), np.sin(phi), np.cos(phi)
    return np.array([[ct, st * sp, st * cp], [0.0, cp, -sp], [-st, ct * sp, ct * cp]])


def tyre_energy(stiffness: float, toe: float, d: float) -> float:
    """Return what a tyre stores under a deflection."""
    if d <= 0.0:
        return 0.0
    if d < toe:
        return stiffness * d**3 / (6.0 * toe)
    return stiffness * (toe**2 / 6.0 + 0.5 * (d**2 - toe**2) - 0.5 * toe * (d - toe))


def spring_energy(rate: float, x: float) -> float:
    """Return what a spring stores; it seats over `k.TOE`."""
    if x <= 0.0:
        return 0.0
    if x < k.TOE:
        return rate * x**3 / (6.0 * k.TOE)
    return rate * (k.TOE**2 / 6.0 + 0.5 * (x**2 - k.TOE**2) - 0.5 * k.TOE * (x - k.TOE))


def energy(vehicle: Vehicle, packed: Packed, *, q: Floats, u: Floats, speed: float, road: Floats) -> float:
    """Return kinetic and potential energy: masses, springs, stops, bars, bushes, gas, tyres' vertical springs [J]."""
    b = vehicle.body
    rot = body_axes(q[4], q[5])
    w = u[:3]
    own = np.array([speed, u[3], u[4]])
    total = 0.5 * b.mass * own @ own + 0.5 * w @ b.tensor @ w + b.mass * vehicle.gravity * q[3]
    for a, parts in enumerate(vehicle.axles):
        h, r, dh, dr = q[6 + 2 * a], q[7 + 2 * a], u[5 + 2 * a], u[6 + 2 * a]
        out = packed.axle_at(a, float(h), float(r))
        c = np.array([out[0, 0], out[0, 1], parts.axle.centre_z0 + h]) - b.centre
        dc = np.array([out[1, 0] * dh + out[2, 0] * dr, out[1, 1] * dh + out[2, 1] * dr, dh])
        v = own + rot @ (np.cross(w, c) + dc)
        turn = w + np.array([dr, out[1, 2] * dh + out[2, 2] * dr, out[1, 3] * dh + out[2, 3] * dr])
        m = parts.mass
        place = q[3] + rot[2] @ c
        total += 0.5 * m.mass * v @ v + 0.5 * turn @ (np.array(m.inertia) * turn) + m.mass * vehicle.gravity * place
        total += 0.5 * parts.bar_rate * r**2 + out[0, 12]
        stop = PchipInterpolator(parts.stop_compression, parts.stop_force).antiderivative()
        tau, delta = out[0, 2], out[0, 3]
        axis = np.array([tau * np.sin(r) - delta * np.cos(r), np.cos(r), np.sin(r)])
        for s in (0, 1):
            total += spring_energy(parts.spring_rate[s], parts.spring_length[s] - out[0, 4 + s])
            total += float(stop(max(parts.stop_height - out[0, 8 + s], 0.0)))
            total -= parts.damper.gas * out[0, 6 + s]
            wheel = q[3] + rot[2] @ (c + (0.5 - s) * parts.axle.track * axis)
            d = parts.tyre.free_radius - (wheel - road[2 * a + s])
            total += tyre_energy(parts.tyre.vertical_stiffness, parts.tyre.toe, d)
    return float(total)
