"""Mean squares of the linear twin on a random road, in closed form by Lyapunov's equation, and by frequency.

The road is that of ISO 8608 with waviness 2: in each track the vertical speed under a wheel is white noise. Both
tracks' half sum and half difference are independent; each drives a chain of

    noise -> coherence -> contact -> road speed -> height,      h' = w - h (2 pi n1 V),  n1 = 0.01 cycle/m

and the rear wheels have a chain of their own, driven by the same noise a wheelbase later. With A the matrix of vehicle
and chains, b1 and b2 where the noise enters front and rear, q its intensity and T the delay, the covariance P of all
states follows from

    A P + P A' + q (b1 b1' + b2 b2' + e^{A T} b1 b2' + b2 b1' e^{A' T}) = 0

exactly: what the front has made of the noise by the time that the rear meets it is e^{A T} b1.

Approximations
--------------
- Coherence of an isotropic surface, g = k K1(k) at k = 2 pi n track, stands as four real poles: within 0.005 of g and
  within 1 % of 1 - g, which rolls the vehicle (from k = 0.05 on; a track of 1.5 m has that at 190 m wavelength).
- Contact averages over its length and the motion's roads are smoothed at 100 Hz: one second-order low-pass with the
  same second moment.
`road_rms` integrates over frequency with the exact coherence and contact instead, for any waviness and weighting.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from scipy.linalg import expm, solve_continuous_lyapunov
from scipy.signal import zpk2ss

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures import Weighting
from tussock.mechanics.motion.closed_forms import REFERENCE_WAVE, road_intensity
from tussock.mechanics.motion.linear import LinearModel, Row, linearise
from tussock.mechanics.motion.linear_friction import MotionSize
from tussock.mechanics.motion.linear_response import Sides, road_response, side_sign
from tussock.mechanics.motion.linear_system import WHEELS
from tussock.mechanics.motion.rest import settle
from tussock.mechanics.motion.road_input import LOW_PASS
from tussock.mechanics.motion.vehicle import Vehicle
from tussock.mechanics.roads.random_road import BAND, coherence

LONGEST = BAND[0]  # n1 [cycle/m]
#: 1 - g = sum of SHARES x / (x + POLES^2), x = k^2: least squares over k from 0.02 to 30 [1]
POLES = (0.0931931, 0.46946865, 1.62678126, 5.03963185)
SHARES = (0.00835417, 0.15200218, 0.98133414, -0.14169049)
_SMOOTH = math.sqrt(2.0 * math.log(2.0)) / (2.0 * math.pi * LOW_PASS)  # deviation of the 100 Hz Gaussian [s]
_TURNS = 60  # most passes of the equivalent slopes
_CLOSE = 1e-3
_STILL = 1e-3  # a rod slower than this sticks, whatever its slope [m/s]

SIDES_OF_A_ROAD: tuple[Sides, Sides] = ("together", "opposite")

System: TypeAlias = tuple[Floats, Floats, Floats]


@dataclass(frozen=True, kw_only=True)
class RoadNoise:
    """A random road of waviness 2 as the closed form sees it.

    Attributes
    ----------
    density : float
        One-sided displacement spectral density at 0.1 cycle/m [m^3].
    contact_length : float
        That the tyres average over [m].
    """

    density: float
    contact_length: float

    def __post_init__(self) -> None:
        """Refuse a road that is none."""
        if not (math.isfinite(self.density) and self.density > 0.0):
            raise DomainError(f"road: spectral density is {self.density:g} m^3; it must be positive")
        if not (math.isfinite(self.contact_length) and self.contact_length >= 0.0):
            raise DomainError(f"road: contact length is {self.contact_length:g} m; it cannot be negative")


@dataclass(frozen=True, kw_only=True)
class RoadMotion:
    """Covariance of a linear twin on a random road.

    Attributes
    ----------
    model : LinearModel
        The twin.
    covariances : tuple of 2 arrays
        Of vehicle and chain states, tracks together and opposite; independent of each other.
    feeds : tuple of 2 arrays
        Inputs over chain states, likewise (m, chain).
    """

    model: LinearModel
    covariances: tuple[Floats, Floats]
    feeds: tuple[Floats, Floats]

    def product(self, one: Row, other: Row) -> float:
        """Return the mean product of two outputs, in their units."""
        total = 0.0
        for covariance, feed in zip(self.covariances, self.feeds, strict=True):
            left, right = (np.concatenate([r.state, r.feed @ feed]) for r in (one, other))
            total += float(left @ covariance @ right)
        return total

    def rms(self, row: Row) -> float:
        """Return the root mean square of an output, in its unit."""
        return math.sqrt(max(self.product(row, row), 0.0))


def _chain(model: LinearModel, road: RoadNoise, sides: Sides) -> System:
    """Return a, b, c of one axle's chain: noise of unit intensity in, road speed and height out."""
    over = model.track / model.speed
    # numerator of (1 +- g) / 2 in x = k^2 = -(s over)^2 over the product of (x + p^2)
    squares = np.array(POLES) ** 2
    whole = np.poly(-squares)
    rolling = np.zeros_like(whole)
    for i, share in enumerate(SHARES):
        rolling = rolling + 0.5 * share * np.append(np.poly(-np.delete(squares, i)), 0.0)
    top = rolling if sides == "opposite" else whole - rolling
    roots = np.roots(top).astype(np.complex128)
    shape = zpk2ss(-np.sqrt(-roots), -np.array(POLES, dtype=np.complex128), math.sqrt(float(top[0])))
    width = math.sqrt((road.contact_length / model.speed) ** 2 + 12.0 * _SMOOTH**2)
    # 1 / (1 + s width / 2 + s^2 width^2 / 12): the contact's average to the fourth order in size
    fast = np.sqrt(12.0) / width
    contact = (
        np.array([[0.0, fast], [-fast, -6.0 / width]]),
        np.array([[0.0], [fast]]),
        np.array([[1.0, 0.0]]),
    )
    a1, b1, c1, d1 = (np.real(part) for part in shape)
    a1, b1 = a1 / over, b1 / over  # from k to seconds
    a2, b2, c2 = contact
    n1 = a1.shape[0]
    a = np.zeros((n1 + 3, n1 + 3))
    a[:n1, :n1] = a1
    a[n1 : n1 + 2, :n1], a[n1 : n1 + 2, n1 : n1 + 2] = b2 @ c1, a2
    slow = 2.0 * math.pi * LONGEST * model.speed
    a[-1, n1 : n1 + 2], a[-1, -1] = c2[0], -slow
    b = np.concatenate([b1[:, 0], b2[:, 0] * d1[0, 0], [0.0]])
    height = np.zeros(n1 + 3)
    height[-1] = 1.0
    return a, b, np.stack([a[-1], height])


def road_motion(model: LinearModel, road: RoadNoise) -> RoadMotion:
    """Return the covariance of a linear twin on a random road.

    Parameters
    ----------
    model : LinearModel
        The twin, at a speed above 0.
    road : RoadNoise
        The road.

    Raises
    ------
    DomainError
        At standstill.
    SolverError
        If a mode does not die away: then there is no steady motion.
    """
    if model.speed <= 0.0:
        raise DomainError("mean squares on a road need a speed above 0")
    if not model.stable:
        worst = max(model.modes, key=lambda m: m.eigenvalue.real)
        raise SolverError(f"no steady motion on a road at {3.6 * model.speed:.0f} km/h: a mode grows ({worst})")
    intensity = road_intensity(roughness=road.density, speed=model.speed)
    delay = model.wheelbase / model.speed
    covariances, feeds = [], []
    n, m = model.b.shape
    for sides in SIDES_OF_A_ROAD:
        a1, b1, out = _chain(model, road, sides)
        f = a1.shape[0]
        feed = np.zeros((m, 2 * f))
        for wheel in WHEELS:
            at = slice(0, f) if wheel.startswith("front") else slice(f, 2 * f)
            sign = side_sign(wheel, sides)
            feed[model.inputs.index(f"road height {wheel}"), at] = sign * out[1]
            feed[model.inputs.index(f"road rate {wheel}"), at] = sign * out[0]
            feed[model.inputs.index(f"road slope {wheel}"), at] = sign * out[0] / model.speed
        whole = np.zeros((n + 2 * f, n + 2 * f))
        whole[:n, :n], whole[:n, n:] = model.a, model.b @ feed
        whole[n : n + f, n : n + f], whole[n + f :, n + f :] = a1, a1
        front, rear = np.zeros(n + 2 * f), np.zeros(n + 2 * f)
        front[n : n + f], rear[n + f :] = b1, b1
        late = np.outer(expm(whole * delay) @ front, rear)
        noise = intensity * (np.outer(front, front) + np.outer(rear, rear) + late + late.T)
        covariances.append(_lyapunov(whole, noise))
        feeds.append(feed)
    return RoadMotion(model=model, covariances=(covariances[0], covariances[1]), feeds=(feeds[0], feeds[1]))


def _lyapunov(a: Floats, noise: Floats) -> Floats:
    """Solve a P + P a' + noise = 0; SolverError with what is left if it is not solved."""
    p = np.asarray(solve_continuous_lyapunov(a, -noise), dtype=np.float64)
    p = 0.5 * (p + p.T)
    size = np.abs(a) @ np.abs(p) + np.abs(p) @ np.abs(a).T + np.abs(noise)
    left = float(np.max(np.abs(a @ p + p @ a.T + noise) / (np.max(size) + 1e-300)))
    if not left < 1e-8:
        raise SolverError(f"mean squares: Lyapunov's equation is left with {left:.1e} of its size")
    return p


def road_spectrum(
    model: LinearModel, rows: Sequence[Row], frequency: Floats, *, road: RoadNoise, waviness: float = 2.0
) -> Floats:
    """Return one-sided spectral densities (nf, nr) of outputs on a random road [unit^2/Hz].

    Exact in coherence, contact average and low-pass; no road below 0.01 cycle/m and above 10 cycle/m.
    """
    f = np.asarray(frequency, dtype=np.float64)
    n = f / model.speed
    heights = road.density * (n / REFERENCE_WAVE) ** -waviness / model.speed
    heights = np.where((n >= BAND[0]) & (n <= BAND[1]), heights, 0.0)
    contact = np.sinc(n * road.contact_length) * np.exp(-0.5 * (2.0 * np.pi * f * _SMOOTH) ** 2)
    gain = coherence(n, track=model.track, waviness=waviness)
    total = np.zeros((f.size, len(rows)))
    for sides, share in zip(SIDES_OF_A_ROAD, (0.5 * (1.0 + gain), 0.5 * (1.0 - gain)), strict=True):
        h = road_response(model, rows, f, sides=sides)
        total += np.abs(h) ** 2 * (share * heights * contact**2)[:, None]
    return total


def road_rms(
    model: LinearModel,
    rows: Sequence[Row],
    *,
    road: RoadNoise,
    waviness: float = 2.0,
    weighting: Weighting | None = None,
    points: int = 4000,
) -> Floats:
    """Return the root mean squares (nr,) of outputs by integrating their spectra.

    Parameters
    ----------
    model, rows, road, waviness
        As `road_spectrum`.
    weighting : Weighting, optional
        Of ISO 2631-1, for accelerations.
    points : int
        Frequencies between 0.01 cycle/m and 100 Hz or 10 cycle/m, evenly on a logarithmic scale.
    """
    low, high = BAND[0] * model.speed, min(BAND[1] * model.speed, 1.5 * LOW_PASS)
    f = np.geomspace(low, high, points)
    density = road_spectrum(model, rows, f, road=road, waviness=waviness)
    if weighting is not None:
        density = density * (weighting.gain(f) ** 2)[:, None]
    return np.sqrt(np.trapezoid(density, f, axis=0))


@dataclass(frozen=True, kw_only=True)
class RoadTwin:
    """A linear twin whose friction and dampers have the slopes of its own motion on a road.

    Attributes
    ----------
    model : LinearModel
        The twin.
    motion : RoadMotion
        Its covariance on that road.
    size : MotionSize
        How much dampers and springs move there.
    passes : int
        How often slopes and motion were found in turn.
    """

    model: LinearModel
    motion: RoadMotion
    size: MotionSize
    passes: int


def road_twin(vehicle: Vehicle, *, speed: float, density: float) -> RoadTwin:
    """Return the linear twin on a random road, friction and bent damper curves as equivalent slopes.

    Slopes need the motion and the motion needs the slopes: both are found in turn, starting at a brisk motion.

    Parameters
    ----------
    vehicle : Vehicle
        What is driven.
    speed : float
        [m/s], above 0.
    density : float
        Displacement spectral density of the road at 0.1 cycle/m [m^3], waviness 2.

    Raises
    ------
    SolverError
        If a mode grows, or slopes and motion do not settle, with the change of the last pass.
    """
    road = RoadNoise(density=density, contact_length=vehicle.front.tyre.contact_length)
    size = MotionSize(damper_speed=(0.2, 0.2), spring_speed=(0.2, 0.2), wheel_speed=(0.3, 0.3), steer_speed=0.05)
    change, rest = math.inf, settle(vehicle)
    for n in range(1, _TURNS + 1):
        model = linearise(vehicle, speed=speed, size=size, rest=rest)
        motion = road_motion(model, road)
        found = _size(motion, vehicle)
        change = max(abs(new - old) / max(new, _STILL) for new, old in zip(found.speeds, size.speeds, strict=True))
        if change < _CLOSE:
            return RoadTwin(model=model, motion=motion, size=found, passes=n)
        # the slip answers its own share too strongly where springs slide: half way each time
        size = replace(
            found,
            slip_product=_between(found.slip_product, size.slip_product),
            bush_product=_between(found.bush_product, size.bush_product),
            steer_product=0.5 * (found.steer_product + size.steer_product),
        )
    raise SolverError(
        f"equivalent slopes and motion at {3.6 * speed:.0f} km/h do not settle: the last of {_TURNS} passes changed a "
        f"speed by {100 * change:.2g} %"
    )


def _between(new: tuple[float, float], old: tuple[float, float]) -> tuple[float, float]:
    return 0.5 * (new[0] + old[0]), 0.5 * (new[1] + old[1])


def _size(motion: RoadMotion, vehicle: Vehicle) -> MotionSize:
    """Return how much dampers, springs and wheels move, both sides together."""
    model = motion.model
    damper, spring, slip, travel, rubbed = [], [], [], [], []
    for end, parts in zip(("front", "rear"), vehicle.axles, strict=True):
        wheels = [w for w in WHEELS if w.startswith(end)]
        damper.append(math.sqrt(np.mean([motion.rms(model.row(f"damper velocity {w}")) ** 2 for w in wheels])))
        speeds, products = [], []
        for w in wheels:
            length = model.row(f"spring length {w}")
            # a spring's length has no feed-through, so that its rate is known
            pace = Row(name="", state=-length.state @ model.a, feed=-length.state @ model.b)
            speeds.append(motion.product(pace, pace))
            name = f"spring slip {w}"
            products.append(motion.product(pace, model.row(name)) if name in model.states else 0.0)
        spring.append(math.sqrt(max(float(np.mean(speeds)), 0.0)))
        slip.append(float(np.mean(products)))
        heaves, rolls = model.row(f"{end} heave rate"), model.row(f"{end} roll rate")
        speeds, products = [], []
        for w in wheels:
            half = (0.5 if w.endswith("left") else -0.5) * parts.axle.track
            pace = Row(name="", state=heaves.state + half * rolls.state, feed=heaves.feed + half * rolls.feed)
            speeds.append(motion.product(pace, pace))
            name = f"bush slip {w}"
            products.append(motion.product(pace, model.row(name)) if name in model.states else 0.0)
        travel.append(math.sqrt(max(float(np.mean(speeds)), 0.0)))
        rubbed.append(float(np.mean(products)))
    turns = "steering slip" in model.states
    return MotionSize(
        damper_speed=(damper[0], damper[1]),
        spring_speed=(spring[0], spring[1]),
        slip_product=(slip[0], slip[1]),
        wheel_speed=(travel[0], travel[1]),
        bush_product=(rubbed[0], rubbed[1]),
        steer_speed=motion.rms(model.row("steer rate")) if turns else 0.0,
        steer_product=motion.product(model.row("steer rate"), model.row("steering slip")) if turns else 0.0,
    )
