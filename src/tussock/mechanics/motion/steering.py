"""Steering of the front wheels as the motion needs it: king pins, column, damper, friction, hand wheel."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

from tussock.errors import DomainError

#: Over which friction of the steering builds up, at the king pins [rad]; common practice, no source.
FRICTION_TURN = math.radians(0.1)


@dataclass(frozen=True, kw_only=True, slots=True)
class Steering:
    """Front wheels that turn about their king pins against an elastic column.

    All moments and angles count at the king pins, both wheels together. King pins turn with the pitch and the roll of
    the axle or the upright that carries them; their caster is that at `pitch`, their inclination that at `lean`.

    Attributes
    ----------
    inertia : float
        Of both wheels with what turns with them, about their king pins [kg m^2].
    stiffness, damping : float
        Of rods, gear, frame and column between wheels and hand wheel [N m/rad], [N m s/rad].
    damper : float
        Of a steering damper between wheels and axle or frame [N m s/rad].
    friction : float
        Of gear and joints [N m]; it builds up over `FRICTION_TURN`.
    caster, inclination : float
        Of the king pins, top rearward and top inward positive [rad].
    caster_offset, king_pin_offset : float
        At the height of the wheel centre: axis ahead of it, axis inward of it [m].
    hand_wheel : float
        Inertia of the hand wheel times the square of `ratio` [kg m^2].
    ratio : float
        Angle of the hand wheel over that of the wheels [-].
    pitch : float
        Of the axle or the uprights where the caster is as given, nose down [rad].
    lean : pair of float
        Of the left and the right wheel where the inclination is as given, left end of its axis up [rad].

    Raises
    ------
    DomainError
        For a value that is no number, or an inertia, stiffness or ratio that is not positive.
    """

    inertia: float
    stiffness: float
    damping: float = 0.0
    damper: float = 0.0
    friction: float = 0.0
    caster: float = 0.0
    inclination: float = 0.0
    caster_offset: float = 0.0
    king_pin_offset: float = 0.0
    hand_wheel: float = 10.0
    ratio: float = 18.0
    pitch: float = 0.0
    lean: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        """Refuse a steering that cannot be."""
        for field in fields(self):
            value = getattr(self, field.name)
            if not all(map(math.isfinite, value if isinstance(value, tuple) else (value,))):
                raise DomainError(f"steering: {field.name} is not a number")
        for name in ("inertia", "stiffness", "hand_wheel", "ratio"):
            if getattr(self, name) <= 0.0:
                raise DomainError(f"steering: {name} is {getattr(self, name):g}; it must be positive")
        for name in ("damping", "damper", "friction"):
            if getattr(self, name) < 0.0:
                raise DomainError(f"steering: {name} is {getattr(self, name):g}; it cannot be negative")
        for name in ("caster", "inclination"):
            if abs(getattr(self, name)) > math.radians(30.0):
                raise DomainError(f"steering: {name} is {math.degrees(getattr(self, name)):.1f} deg, beyond 30 deg")

    def trail(self, radius: float) -> float:
        """Return how far the king pins meet the ground ahead of the contact patches, `radius` below the centres [m]."""
        return self.caster_offset + radius * math.tan(self.caster)

    def wheel(self, sign: float) -> tuple[float, float, float, float, float, float]:
        """Return how a wheel moves over steer: its centre forward, left, up, growth of up; turning.

        `sign` is 1 on the left, -1 on the right. The last two are what it turns about forward and left directions.
        From the turning vector (-tan caster, -sign tan inclination, 1) about an axis `king_pin_offset` inward and
        `caster_offset` ahead of the centre.
        """
        lean, tilt = math.tan(self.caster), math.tan(self.inclination)
        ahead, inward = self.caster_offset, self.king_pin_offset
        return (
            -sign * inward,
            -ahead,
            -sign * (lean * inward + tilt * ahead),
            lean * ahead - tilt * inward,
            -lean,
            -sign * tilt,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Give:
    """How the bushes of an axle let its wheels turn and move under forces at the ground, heave, roll and steering held.

    Side forces are positive to the left on both wheels, steer to the left, inclination left end of the wheel's axis up.

    Attributes
    ----------
    steer : pair of float
        By the wheel's own side force and by the other one's [rad/N].
    inclination : float
        By its own side force [rad/N].
    brake_steer : pair of float
        Of the left and the right wheel by their own forward forces at the ground [rad/N].
    shift : float
        Sideways by its side force where the other wheel has the same; it adds to the tyre's relaxation length [m/N].
    """

    steer: tuple[float, float] = (0.0, 0.0)
    inclination: float = 0.0
    brake_steer: tuple[float, float] = (0.0, 0.0)
    shift: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no number, and bushes that push against a force."""
        values = (*self.steer, self.inclination, *self.brake_steer, self.shift)
        if not all(math.isfinite(value) for value in values):
            raise DomainError("give of the bushes: a value is not a number")
        if self.shift < 0.0:
            raise DomainError(f"give of the bushes: a shift of {self.shift:g} m/N goes against the force")


RIGID = Give()  # bushes that do not give
