"""Steer wobble: steering that swings about its king pins together with the tramp of the front axle.

Three things keep it going. The side force builds up over the tyre's relaxation length, late by it when the wheel swings
on the trail; a spinning wheel that tramps is turned about its king pin by its gyroscopic moment, and one that turns is
tilted; and the contact is carried sideways by tramp. Column, rods and frame give, so that the wheels can swing while
the hand wheel is held. A wobble that dies away in the linear twin dies away from any small start; dry friction of the
steering, left out here, stops small ones in addition (`held_by_friction`).

References
----------
.. [1] Pacejka, Tire and Vehicle Dynamics, 3rd ed. 2012, chapter 6 (from memory): a trailing wheel on a free vertical
   king pin, side force by a straight tangent of relaxation length s, is stable at any speed while its trail exceeds s.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from scipy.optimize import brentq

from tussock.errors import DomainError, SolverError
from tussock.mechanics.motion.linear import LinearModel, Mode, linearise
from tussock.mechanics.motion.linear_friction import MotionSize
from tussock.mechanics.motion.rest import Rest, settle
from tussock.mechanics.motion.steering import Steering
from tussock.mechanics.motion.vehicle import Vehicle

_SLOWEST = 3.0  # a swing slower than this is weave of the whole vehicle [Hz]
_TAKES_PART = 0.05  # share of the steering from which a mode can be a wobble
_CLOSE = 0.1  # speeds are found to this [m/s]
_FIRMEST = 2e3  # steering damper beyond which none is sought [N m s/rad]


@dataclass(frozen=True, kw_only=True)
class Wobble:
    """The two modes in which front wheels steer and front axle tramps, at one speed.

    Attributes
    ----------
    speed : float
        [m/s].
    steering, tramp : Mode
        The one with most steering, and the one with most tramp of what is left.
    """

    speed: float
    steering: Mode
    tramp: Mode

    @property
    def least(self) -> Mode:
        """The one that is damped less."""
        return min(self.steering, self.tramp, key=lambda m: m.damping)


def steered(vehicle: Vehicle) -> Steering:
    """Return a vehicle's steering; DomainError if its wheels follow the hand wheel rigidly."""
    if vehicle.steering is None:
        raise DomainError("wobble needs a steering that gives: the vehicle's wheels follow the hand wheel rigidly")
    return vehicle.steering


def wobble(
    vehicle: Vehicle,
    *,
    speed: float,
    size: MotionSize | None = None,
    rest: Rest | None = None,
    hands_off: bool = False,
) -> Wobble:
    """Return the coupled modes of steering and tramp at a speed, friction of the steering left out.

    Parameters
    ----------
    vehicle : Vehicle
        With `steering`.
    speed : float
        [m/s], above 0.
    size, rest, hands_off
        As `linearise`.

    Raises
    ------
    DomainError
        If the vehicle's steering does not give.
    SolverError
        If steering or tramp does not swing at all: then it is damped out of sight.
    """
    free = replace(vehicle, steering=replace(steered(vehicle), friction=0.0))
    return _pick(linearise(free, speed=speed, size=size, rest=rest, hands_off=hands_off))


def _pick(model: LinearModel) -> Wobble:
    swinging = [m for m in model.modes if m.frequency > _SLOWEST]
    if len(swinging) < 2:
        raise SolverError(f"at {3.6 * model.speed:.0f} km/h neither steering nor tramp swings")
    steering = max(swinging, key=lambda m: m.shares["steering"] + m.shares["hand wheel"])
    tramp = max((m for m in swinging if m is not steering), key=lambda m: m.shares["front axle tramp"])
    return Wobble(speed=model.speed, steering=steering, tramp=tramp)


def wobbles(
    vehicle: Vehicle, speeds: Sequence[float], *, size: MotionSize | None = None, hands_off: bool = False
) -> tuple[Wobble, ...]:
    """Return the coupled modes at several speeds; see `wobble`."""
    rest = settle(vehicle)
    return tuple(wobble(vehicle, speed=v, size=size, rest=rest, hands_off=hands_off) for v in speeds)


def speed_of(
    vehicle: Vehicle,
    damping: float,
    found: Sequence[Wobble],
    *,
    size: MotionSize | None = None,
    hands_off: bool = False,
) -> float | None:
    """Return the lowest speed at which a wobble's damping falls to a ratio [m/s]; None if it does not.

    Parameters
    ----------
    vehicle, size, hands_off
        As `wobble`.
    damping : float
        Ratio [-]; 0 where it begins to grow.
    found : sequence of Wobble
        By rising speed: between which of them it is sought.
    """
    rest = settle(vehicle)

    def over(speed: float) -> float:
        return wobble(vehicle, speed=speed, size=size, rest=rest, hands_off=hands_off).least.damping - damping

    if found[0].least.damping <= damping:
        return found[0].speed
    for below, above in itertools.pairwise(found):
        if above.least.damping <= damping:
            return float(brentq(over, below.speed, above.speed, xtol=_CLOSE))
    return None


def damper_for(
    vehicle: Vehicle,
    damping: float,
    *,
    speeds: Sequence[float],
    size: MotionSize | None = None,
    hands_off: bool = False,
) -> float | None:
    """Return the least steering damper with which no wobble is damped less at any of some speeds [N m s/rad].

    At the king pins, both wheels together; the vehicle's own steering damper is replaced. None if none does it.
    """
    rest = settle(vehicle)

    def over(damper: float) -> float:
        worn = replace(vehicle, steering=replace(steered(vehicle), damper=damper))
        return min(
            wobble(worn, speed=v, size=size, rest=rest, hands_off=hands_off).least.damping - damping for v in speeds
        )

    if over(0.0) >= 0.0:
        return 0.0
    firm = 10.0
    while over(firm) < 0.0:
        firm *= 2.0
        if firm > _FIRMEST:
            return None
    return float(brentq(over, 0.5 * firm if firm > 10.0 else 0.0, firm, rtol=1e-2))


def held_by_friction(vehicle: Vehicle, found: Wobble) -> float:
    """Return the swing of the front wheels that the steering's dry friction just stops [rad]; 0 for a wobble that dies.

    Over a swing of amplitude A friction takes 4 F A, as a damper of 4 F / (pi w A) would (harmonic balance); it holds a
    wobble that grows with -2 z w while that damper's share of the energy is more. A bigger knock than that goes on.
    """
    mode = found.least
    if mode.damping >= 0.0:
        return 0.0
    steering = steered(vehicle)
    omega = abs(mode.eigenvalue)
    # energy of the mode over that of the steering alone
    whole = steering.inertia / max(mode.shares["steering"], 1e-3)
    return 4.0 * steering.friction / (math.pi * omega * 2.0 * -mode.damping * omega * whole)
