"""When a vehicle tips: static stability, the share that roll takes, the kerb strike.

References
----------
.. [1] NHTSA, 65 FR 34998 (1 June 2000), chapter V: static stability factor, critical sliding velocity named.
.. [2] Gillespie, Fundamentals of Vehicle Dynamics, 1992, eq. 9-8 (from memory).
"""

from __future__ import annotations

import math

from tussock.errors import DomainError

_GRAVITY = 9.80665  # standard acceleration of free fall [m/s^2], ISO 80000-3


def static_stability_factor(*, track: float, height: float) -> float:
    """Return track / (2 height) [-]: the lateral acceleration in g at which a rigid vehicle begins to tip.

    Parameters
    ----------
    track, height : float
        Mean track and height of the centre of gravity [m], positive.

    References
    ----------
    NHTSA, 65 FR 34998 (1 June 2000), chapter V.
    """
    if not (track > 0.0 and height > 0.0):
        raise DomainError(f"track {track:g} m and height {height:g} m must be positive")
    return track / (2.0 * height)


def rollover_threshold(*, track: float, height: float, roll_centre_height: float, roll_gradient: float) -> float:
    """Return the lateral acceleration at which a vehicle on its suspension begins to tip [g].

    Parameters
    ----------
    track, height, roll_centre_height : float
        Mean track, height of the centre of gravity and of the roll axis under it [m].
    roll_gradient : float
        Body roll per lateral acceleration [rad/g], not negative.

    References
    ----------
    Gillespie, Fundamentals of Vehicle Dynamics, 1992, eq. 9-8 (from memory).
    """
    if roll_gradient < 0.0 or roll_centre_height > height:
        raise DomainError(
            f"roll gradient {roll_gradient:g} rad/g must not be negative and the roll axis ({roll_centre_height:g} m) "
            f"must lie below the centre of gravity ({height:g} m)"
        )
    factor = static_stability_factor(track=track, height=height)
    return factor / (1.0 + roll_gradient * (1.0 - roll_centre_height / height))


def critical_sliding_velocity(*, mass: float, height: float, track: float, roll_inertia: float) -> float:
    """Return the sideways speed at which a kerb strike just tips a rigid vehicle [m/s].

    Angular momentum about the kerb, then energy up to the balance point (metric named by NHTSA, formula derived).

    Parameters
    ----------
    mass : float
        [kg].
    height, track : float
        Height of the centre of gravity and mean track [m].
    roll_inertia : float
        About the centre of gravity [kg m^2].
    """
    if min(mass, height, track, roll_inertia) <= 0.0:
        raise DomainError("critical sliding velocity: mass, height, track and roll inertia must be positive")
    radius_squared = height**2 + track**2 / 4.0
    about_kerb = roll_inertia + mass * radius_squared
    rise = math.sqrt(radius_squared) - height
    return math.sqrt(2.0 * _GRAVITY * about_kerb / (mass * height**2) * rise)
