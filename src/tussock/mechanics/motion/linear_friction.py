"""Slopes that stand for friction and for bent damper curves in a linear twin, at a motion of known size.

A damper of force F(v) with Coulomb friction F0 is replaced by the slope that leaves the least mean square error where
its rod's speed is normally distributed with standard deviation s (statistical linearisation, [1]_, [2]_):

    c = E[v F(v)] / s^2 + sqrt(2 / pi) F0 / s

The mount stays in series with it: at small s the rod sticks and the mount alone gives, which is the vehicle's own
harshness on small bumps. Friction of springs is a force F0 / b times a slip z, dz = dx - z |dx| / b; for jointly normal
speed and slip [3]_

    z' = (1 - sqrt(2 / pi) E[v z] / (s b)) v - sqrt(2 / pi) (s / b) z

At small s the spring sticks with the stiffness F0 / b. At large s the slip is far from normal, and this leaves 21 %
less damping than Coulomb friction would have: sqrt(pi / 8) F0 / s against sqrt(2 / pi) F0 / s.

Friction of bushes over the wheels' travel and of the steering goes the same way.

Left out: the mean force of a damper whose rebound is firmer than its compression, which pulls the body down on a rough
road, and gas force, which does not depend on speed.

References
----------
.. [1] Caughey, J. Acoust. Soc. Am. 35(11), 1963, 1706-1711 (from memory).
.. [2] Roberts, Spanos, Random Vibration and Statistical Linearization, 1990 (from memory).
.. [3] Wen, J. Appl. Mech. 47(1), 1980, 150-154: closed form for a hysteretic system (from memory, derived again here).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from tussock.errors import DomainError
from tussock.mechanics.motion.damper_parts import DamperParts
from tussock.mechanics.motion.vehicle import AxleParts, Vehicle

_STICKS = 1e8  # slope of a damper that friction holds [N s/m]
_FASTEST = 5.0  # the curve is laid out to this speed [m/s]
_REACH, _NODES = 6.0, 1201  # quadrature to so many standard deviations
_LEAN = math.sqrt(2.0 / math.pi)


@dataclass(frozen=True, kw_only=True)
class MotionSize:
    """How much dampers and springs of front and rear axle move, root mean square of both sides.

    Attributes
    ----------
    damper_speed, spring_speed : pair of float
        Of rods and springs [m/s].
    slip_product : pair of float
        Mean product of spring speed and friction slip [m^2/s]; 0 to begin with.
    wheel_speed, bush_product : pair of float
        The same of the wheels' travel and the friction of their bushes [m/s], [m^2/s].
    steer_speed, steer_product : float
        The same of the front wheels about their king pins [rad/s], [rad^2/s].
    """

    damper_speed: tuple[float, float]
    spring_speed: tuple[float, float]
    slip_product: tuple[float, float] = (0.0, 0.0)
    wheel_speed: tuple[float, float] = (0.0, 0.0)
    bush_product: tuple[float, float] = (0.0, 0.0)
    steer_speed: float = 0.0
    steer_product: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a speed that is not one."""
        if not all(math.isfinite(s) and s >= 0.0 for s in self.speeds):
            raise DomainError(f"size of motion: speeds {self.speeds} m/s must not be < 0")

    @property
    def speeds(self) -> tuple[float, ...]:
        """All of them, front and rear."""
        return (*self.damper_speed, *self.spring_speed, *self.wheel_speed, self.steer_speed)


def equivalent_slope(damper: DamperParts, speed: float) -> float:
    """Return the slope of a damper's force, friction included, in a random motion of its rod [N s/m].

    Parameters
    ----------
    damper : DamperParts
        Curve and Coulomb friction.
    speed : float
        Standard deviation of the rod's speed [m/s]; 0 for the slope at rest, or a rod that friction holds.
    """
    curve = PchipInterpolator(damper.velocity, damper.force)
    if speed <= 0.0:
        return _STICKS if damper.friction > 0.0 else float(curve.derivative()(0.0))
    unit = np.linspace(-_REACH, _REACH, _NODES)
    low, high = float(damper.velocity[0]), float(damper.velocity[-1])
    v = speed * unit
    inside = np.clip(v, low, high)
    force = curve(inside) + curve.derivative()(inside) * (v - inside)  # beyond its ends it goes on straight
    weight = np.exp(-0.5 * unit**2)
    slope = float(np.sum(weight * force * unit) / np.sum(weight) / speed)
    return min(slope + _LEAN * damper.friction / speed, _STICKS)


def equivalent(vehicle: Vehicle, size: MotionSize | None) -> Vehicle:
    """Return the vehicle with straight damper curves, their friction in the slope.

    Without a size friction is left out and the slope is that at rest. Straight they must be even then: differences over
    steps of unlike size would else take unlike slopes from a curve that bends at rest.
    """

    def end(parts: AxleParts, a: int) -> AxleParts:
        damper = replace(parts.damper, friction=0.0) if size is None else parts.damper
        slope = equivalent_slope(damper, 0.0 if size is None else size.damper_speed[a])
        velocity = np.linspace(-_FASTEST, _FASTEST, 5)
        return replace(parts, damper=replace(damper, velocity=velocity, force=slope * velocity, friction=0.0))

    return replace(vehicle, front=end(vehicle.front, 0), rear=end(vehicle.rear, 1))


def slip_slopes(*, speed: float, product: float, travel: float) -> tuple[float, float]:
    """Return what share of a speed the slip of a friction takes [-] and the pace at which it falls back [1/s].

    Parameters
    ----------
    speed : float
        Root mean square of the speed that rubs [m/s] or [rad/s].
    product : float
        Mean product of that speed and the slip.
    travel : float
        Over which the friction builds up [m] or [rad].
    """
    if speed <= 0.0:
        return 1.0, 0.0
    return 1.0 - _LEAN * product / (speed * travel), _LEAN * speed / travel
