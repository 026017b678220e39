"""What nobody measured: height of the centre of gravity and inertia from published regressions; the tilt test.

References
----------
.. [1] Heydinger et al., SAE 1999-01-1336: Light Vehicle Inertial Parameter Database. 42 rows of utility vehicles (type
   MP) as decoded from a public plot; the regressions are refits of those rows.
.. [2] NCAP rollover measurements 2001 to 2020, as decoded from a public plot: height over roof height.
.. [3] ISO 10392, form of the formula seen in a public lecture only.
"""

from __future__ import annotations

import math

from tussock.errors import DomainError

#: Inertia over total mass [1]_: slope [m^2], offset [kg m^2], scatter [kg m^2].
INERTIA_REGRESSION: dict[str, tuple[float, float, float]] = {
    "roll": (0.5851, -343.0, 67.0),
    "pitch": (3.5768, -3122.8, 607.0),
    "yaw": (3.5085, -2944.8, 541.0),
}
#: Roll radius over track [-]; squared pitch and yaw radius over the product of the centre's distances to the axles [-];
#: value and scatter [1]_.
ROLL_RADIUS = (0.4174, 0.0172)
PITCH_INDEX = (1.0199, 0.0936)
YAW_INDEX = (1.0428, 0.0747)
#: Centre of gravity height over total mass [1]_: slope [m/kg], offset [m], scatter [m].
HEIGHT_REGRESSION = (1.2302e-4, 0.4657, 0.032)
#: Centre of gravity height over roof height, sport utility vehicles, n = 500 [2]_: value, scatter [-].
ROOF_SHARE = (0.389, 0.013)
#: Masses that the rows cover [kg].
REGRESSION_RANGE = (1043.0, 2667.0)

Triple = tuple[float, float, float]


def _require_mass(mass: float, what: str) -> None:
    low, high = REGRESSION_RANGE
    if not low <= mass <= high:
        raise DomainError(f"{mass:.0f} kg lies outside the {what} regression ({low:.0f} to {high:.0f} kg); measure it")


def estimate_inertia(
    mass: float, *, track: float | None = None, to_front: float | None = None, to_rear: float | None = None
) -> tuple[Triple, Triple]:
    """Return roll, pitch and yaw inertia about the centre of a utility vehicle, and their scatter [kg m^2].

    From mass alone, or, with track and axle distances, from the radii of gyration, which follow the size of the
    vehicle better. The product of inertia x-z is not estimated: its regression explains a tenth of the variance.

    Parameters
    ----------
    mass : float
        Total mass without load [kg], 1043 to 2667.
    track : float, optional
        Mean track [m].
    to_front, to_rear : float, optional
        Distances of the centre of gravity to the front and rear axle [m]; all three lengths or none.

    Raises
    ------
    DomainError
        Outside the masses of the regression, or with some of the lengths only.

    References
    ----------
    Refit of 42 rows of the database of SAE 1999-01-1336 (`INERTIA_REGRESSION`, `ROLL_RADIUS`, `PITCH_INDEX`,
    `YAW_INDEX`).

    Examples
    --------
    >>> [round(i) for i in estimate_inertia(1750.0)[0]]
    [681, 3137, 3195]
    """
    _require_mass(mass, "inertia")
    if track is None and to_front is None and to_rear is None:
        fits = [INERTIA_REGRESSION[k] for k in ("roll", "pitch", "yaw")]
        values = [slope * mass + offset for slope, offset, _ in fits]
        scatter = [s for _, _, s in fits]
        return (values[0], values[1], values[2]), (scatter[0], scatter[1], scatter[2])
    if track is None or to_front is None or to_rear is None or min(track, to_front, to_rear) <= 0.0:
        raise DomainError(
            "the inertia estimate from size wants track and both axle distances, each above 0 m; "
            f"got {track}, {to_front}, {to_rear}"
        )
    roll = mass * (ROLL_RADIUS[0] * track) ** 2
    pitch = mass * PITCH_INDEX[0] * to_front * to_rear
    yaw = mass * YAW_INDEX[0] * to_front * to_rear
    return (roll, pitch, yaw), (
        roll * 2.0 * ROLL_RADIUS[1] / ROLL_RADIUS[0],
        pitch * PITCH_INDEX[1] / PITCH_INDEX[0],
        yaw * YAW_INDEX[1] / YAW_INDEX[0],
    )


def estimate_height(mass: float, *, roof_height: float | None = None) -> tuple[float, float]:
    """Return the height of the centre of gravity of a utility vehicle above the ground and its scatter [m].

    Parameters
    ----------
    mass : float
        Total mass without load [kg], 1043 to 2667.
    roof_height : float, optional
        Height of the roof [m]; when given the height is a share of it, with half the scatter.

    Raises
    ------
    DomainError
        Outside the masses of the regression.

    References
    ----------
    From mass: 42 rows of the database of SAE 1999-01-1336. From roof height: NCAP rollover measurements 2001 to 2020.
    """
    _require_mass(mass, "height")
    if roof_height is not None:
        if not 1.4 <= roof_height <= 2.3:
            raise DomainError(f"roof height {roof_height:g} m is not that of a utility vehicle (1.4 to 2.3 m)")
        return ROOF_SHARE[0] * roof_height, ROOF_SHARE[1] * roof_height
    slope, offset, scatter = HEIGHT_REGRESSION
    return slope * mass + offset, scatter


def height_from_tilt(
    *, mass: float, front_level: float, front_raised: float, wheelbase: float, angle: float, axle_height: float
) -> float:
    """Return the height of the centre of gravity from a test with the rear axle raised, suspension locked [m].

    Parameters
    ----------
    mass, front_level, front_raised : float
        Total mass and mass on the front axle, level and tilted [kg].
    wheelbase, axle_height : float
        Wheelbase and height of the wheel centres above the ground [m].
    angle : float
        Tilt [rad], above 0.

    Raises
    ------
    DomainError
        Without tilt, or when a mass or length is not positive.

    References
    ----------
    ISO 10392, form of the formula seen in a public lecture only.
    """
    if not 0.0 < angle < math.pi / 4.0:
        raise DomainError(f"tilt angle is {math.degrees(angle):g} deg; the axle must be raised, by less than 45 deg")
    if min(mass, front_level, front_raised, wheelbase, axle_height) <= 0.0:
        raise DomainError("tilt test: masses, wheelbase and axle height must be positive")
    return axle_height + (front_raised - front_level) * wheelbase / (mass * math.tan(angle))


def height_spread_from_tilt(
    *,
    mass: float,
    front_level: float,
    front_raised: float,
    wheelbase: float,
    angle: float,
    scale_spread: float,
    angle_spread: float,
    axle_height_spread: float = 0.0,
) -> float:
    """Return the standard uncertainty of `height_from_tilt`, first order [m].

    Parameters
    ----------
    mass, front_level, front_raised, wheelbase, angle
        As in `height_from_tilt`.
    scale_spread : float
        Of one axle reading [kg].
    angle_spread : float
        Of the tilt [rad].
    axle_height_spread : float
        [m].
    """
    rise = height_from_tilt(
        mass=mass,
        front_level=front_level,
        front_raised=front_raised,
        wheelbase=wheelbase,
        angle=angle,
        axle_height=1.0,
    )
    lever = rise - 1.0
    by_scale = wheelbase / (mass * math.tan(angle)) * math.sqrt(2.0) * scale_spread
    by_angle = lever / (math.sin(angle) * math.cos(angle)) * angle_spread
    return math.sqrt(by_scale**2 + by_angle**2 + axle_height_spread**2)
