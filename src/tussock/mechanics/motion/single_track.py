"""The linear single-track model: what a vehicle does in a bend, with roll, load transfer and steering left out.

References
----------
.. [1] Bundorf, Leffert, The cornering compliance concept, SAE 760713 (1976; from memory): matrices and gradient.
.. [2] Gillespie, Fundamentals of Vehicle Dynamics (1992), ch. 6 (from memory): characteristic speed, yaw gain.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.vehicle import Vehicle


@dataclass(frozen=True, kw_only=True, slots=True)
class SingleTrack:
    """The linear single-track model of a vehicle.

    Attributes
    ----------
    mass, yaw_inertia : float
        Of the whole vehicle [kg], [kg m^2].
    front, rear : float
        From the centre of gravity to the axles, both above 0 [m].
    front_stiffness, rear_stiffness : float
        Cornering stiffness of a whole axle [N/rad].
    """

    mass: float
    yaw_inertia: float
    front: float
    rear: float
    front_stiffness: float
    rear_stiffness: float

    @property
    def wheelbase(self) -> float:
        """[m]."""
        return self.front + self.rear

    @property
    def understeer_gradient(self) -> float:
        """Steer of the front wheels over lateral acceleration beyond the Ackermann angle [rad s^2/m]."""
        share = self.mass / self.wheelbase
        return share * (self.rear / self.front_stiffness - self.front / self.rear_stiffness)

    @property
    def characteristic_speed(self) -> float:
        """Speed of the greatest yaw gain; of an oversteering vehicle the critical speed [m/s]."""
        return math.sqrt(self.wheelbase / abs(self.understeer_gradient))

    def yaw_gain(self, speed: float) -> float:
        """Return the steady yaw rate over the steer of the front wheels [1/s]."""
        return speed / (self.wheelbase + self.understeer_gradient * speed**2)

    def matrices(self, speed: float) -> tuple[Floats, Floats]:
        """Return a (2, 2) and b (2,) of lateral speed and yaw rate over the steer of the front wheels."""
        cf, cr, lf, lr = self.front_stiffness, self.rear_stiffness, self.front, self.rear
        m, i = self.mass, self.yaw_inertia
        a = np.array(
            [
                [-(cf + cr) / (m * speed), (cr * lr - cf * lf) / (m * speed) - speed],
                [(cr * lr - cf * lf) / (i * speed), -(cf * lf**2 + cr * lr**2) / (i * speed)],
            ]
        )
        return a, np.array([cf / m, cf * lf / i])

    def full(self, speed: float) -> tuple[Floats, Floats]:
        """Return a (4, 4) and b (4,) of lateral place, lateral speed, heading and yaw rate on a straight road."""
        a, b = np.zeros((4, 4)), np.zeros(4)
        inner, gain = self.matrices(speed)
        a[0, 1], a[0, 2], a[2, 3] = 1.0, speed, 1.0
        a[np.ix_((1, 3), (1, 3))] = inner
        b[[1, 3]] = gain
        return a, b


def single_track(vehicle: Vehicle, *, lateral: float = 0.0) -> SingleTrack:
    """Return the single-track model of a vehicle as it stands: masses, yaw inertia, tyres at their static loads.

    An axle's stiffness counts what bushes and steering give under its side force: the effective one [1]_.

    Parameters
    ----------
    vehicle : Vehicle
        What is modelled.
    lateral : float
        Lateral acceleration up to which the tyres' forces are taken as straight [m/s^2]: their stiffness is then the
        force over the slip that a steady turn there takes, 0 for that at no slip.

    Raises
    ------
    DomainError
        If the centre of gravity does not lie between the axles, or the tyres do not hold the lateral acceleration.
    """
    masses = (vehicle.body, vehicle.front.mass, vehicle.rear.mass)
    total = sum(m.mass for m in masses)
    centre = [sum(m.mass * m.centre[k] for m in masses) / total for k in (0, 1)]
    yaw = sum(m.inertia[2] + m.mass * ((m.centre[0] - centre[0]) ** 2 + (m.centre[1] - centre[1]) ** 2) for m in masses)
    front = vehicle.front.axle.design_x - centre[0]
    rear = centre[0] - vehicle.rear.axle.design_x
    if min(front, rear) <= 0.0:
        raise DomainError("the centre of gravity does not lie between the axles: no single-track model of that")
    load = total * vehicle.gravity / (front + rear)
    stiffness = []
    for parts, share in zip(vehicle.axles, (rear, front), strict=True):
        used = lateral / (parts.tyre.friction * vehicle.gravity)
        if not 0.0 <= used < 1.0:
            raise DomainError(f"tyres of friction {parts.tyre.friction:g} do not hold {lateral:g} m/s^2 sideways")
        # the brush: force over friction is 3 e - 3 e^2 + e^3
        e = 1.0 - (1.0 - used) ** (1.0 / 3.0)
        yields = 1.0 / (2.0 * parts.tyre.cornering(0.5 * load * share) * (used / (3.0 * e) if e > 0.0 else 1.0))
        # bushes turn the wheels, and so does the steering's elasticity behind the trail
        yields -= 0.5 * sum(parts.give.steer)
        if parts is vehicle.front and vehicle.steering is not None:
            radius = parts.tyre.free_radius - parts.tyre.deflection(0.5 * load * share)
            trail = vehicle.steering.trail(radius) + parts.tyre.half_contact / 3.0
            yields += trail / vehicle.steering.stiffness
        if yields <= 0.0:
            raise DomainError("an axle that its bushes turn further into the bend than its tyres slip: no such model")
        stiffness.append(1.0 / yields)
    return SingleTrack(
        mass=total,
        yaw_inertia=yaw,
        front=front,
        rear=rear,
        front_stiffness=stiffness[0],
        rear_stiffness=stiffness[1],
    )
