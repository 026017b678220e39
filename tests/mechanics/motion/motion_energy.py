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


def energy(
    vehicle: Vehicle, packed: Packed, *, q: Floats, u: Floats, speed: float, road: Floats, hand: float = 0.0
) -> float:
    """Return kinetic and potential energy: masses, springs, stops, bars, bushes, gas, tyres' vertical springs [J]."""
    b = vehicle.body
    rot = body_axes(q[4], q[5])
    w = u[:3]
    own = np.array([speed, u[3], u[4]])
    total = 0.5 * b.mass * own @ own + 0.5 * w @ b.tensor @ w + b.mass * vehicle.gravity * q[3]
    if vehicle.steering is not None:
        total += 0.5 * vehicle.steering.stiffness * (q[10] - q[11] - hand) ** 2
        total += 0.5 * vehicle.steering.hand_wheel * u[10] ** 2
    turns = (0.0, 0.0)
    if vehicle.frame is not None:
        turns = vehicle.frame.turns
        total += 0.5 * vehicle.frame.stiffness * q[12] ** 2
        total += 0.5 * vehicle.frame.inertia(b.inertia[0]) * u[11] ** 2
    for a, parts in enumerate(vehicle.axles):
        # the end of the frame that the axle hangs on
        end = turns[a] * q[12]
        c, s = np.cos(end), np.sin(end)
        rot = body_axes(q[4], q[5] + end)
        w = np.array([u[0] + turns[a] * u[11], c * u[1] + s * u[2], c * u[2] - s * u[1]])
        h, r, dh, dr = q[6 + 2 * a], q[7 + 2 * a], u[5 + 2 * a], u[6 + 2 * a]
        out = packed.axle_at(a, float(h), float(r))
        steering = vehicle.steering if a == 0 else None
        rate = out[1] * dh + out[2] * dr
        half = 0.5 * parts.axle.track
        lump, inertia = parts.lumped
        centres, speeds = [], []
        for sign in (1.0, -1.0):
            x, y = out[0, 0] + sign * out[0, 1], out[0, 2] + sign * out[0, 3]
            centres.append(np.array([x, y, parts.axle.centre_z0 + h + sign * half * np.sin(r)]) - b.centre)
            moving = np.array([rate[0] + sign * rate[1], rate[2] + sign * rate[3], dh + sign * half * np.cos(r) * dr])
            speeds.append(own + rot @ (np.cross(w, centres[-1]) + moving))
            turn = w + np.array([rate[4] + sign * rate[5], rate[8], rate[6] + sign * rate[7]])
            total += 0.25 * turn @ (np.array(inertia) * turn)
            if steering is not None:
                total += 0.25 * steering.inertia * ((turn[2] + u[9]) ** 2 - turn[2] ** 2)
        m = parts.mass
        mean, apart = 0.5 * (speeds[0] + speeds[1]), 0.5 * (speeds[0] - speeds[1])
        total += 0.5 * m.mass * mean @ mean + 0.5 * lump * apart @ apart
        total += m.mass * vehicle.gravity * (q[3] + rot[2] @ (0.5 * (centres[0] + centres[1])))
        total += out[0, 9]
        stop = PchipInterpolator(parts.stop_compression, parts.stop_force).antiderivative()
        for s in (0, 1):
            total += spring_energy(parts.spring_rate[s], parts.spring_length[s] - out[0, 10 + s])
            total += float(stop(max(parts.stop_height - out[0, 14 + s], 0.0)))
            total -= parts.damper.gas * out[0, 12 + s]
            centre = centres[s]
            if steering is not None:
                x, y, z, growth = steering.wheel(1.0 - 2.0 * s)[:4]
                lies = out[0, 8] - steering.pitch  # the king pins turn with the axle
                leaned = out[0, 4] + (1.0 - 2.0 * s) * out[0, 5] - steering.lean[s]
                z, growth = z - lies * x + leaned * y, growth + lies * y + leaned * x
                centre = centre + np.array([x * q[10], y * q[10], z * q[10] + 0.5 * growth * q[10] ** 2])
            wheel = q[3] + rot[2] @ centre
            d = parts.tyre.free_radius - (wheel - road[2 * a + s])
            total += tyre_energy(parts.tyre.vertical_stiffness, parts.tyre.toe, d)
    return float(total)
