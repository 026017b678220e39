"""Calibration: the few parameters that no drawing tells, fitted to dynoed builds, and how far the data tell them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from types import MappingProxyType
from typing import Literal, TypeAlias

import numpy as np
from scipy.optimize import OptimizeResult, least_squares
from scipy.stats import chi2
from scipy.stats import t as student

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.assembly import RANGES, DamperBuild, LiftTables, Parameters, assemble
from tussock.mechanics.dampers.hydraulics import solve
from tussock.mechanics.dampers.seat_tables import SeatGridTables

Knowledge: TypeAlias = Literal["from the data", "partly", "as assumed", "at its bound"]

#: Standard deviation of what is believed of each parameter before any dyno run (SI): a third of what practice spans;
#: common practice, no source.
SPREAD: Mapping[str, float] = MappingProxyType(
    {
        "curtain_discharge": 0.08,
        "port_factor": 0.10,
        "bleed_factor": 0.15,
        "band_gap": 0.015e-3,
        "seat_offset": 0.020e-3,
        "jet_coefficient": 0.10,
        "seal_friction": 20.0,
    }
)
#: Two parameters that move together more than this are known as a pair only [-].
TOGETHER = 0.9
_MOST_EVALUATIONS = 60
#: Step of the difference quotients, in standard deviations of what is believed [-].
_STEP = 0.02
#: Parameters that decide at which speed a valve opens.
_VALLEYS = ("bleed_factor", "seat_offset")


@dataclass(frozen=True, kw_only=True, eq=False)
class Observation:
    """One dynoed build.

    Parameters
    ----------
    build : DamperBuild
        As it was built.
    velocity : array (n,)
        Of the rod, rising, positive in compression, none 0 [m/s].
    force : array (n,)
        On the rod with friction in it, gas force taken off, positive in compression [N].
    sigma : float or array (n,)
        Standard deviation of a measured force [N].
    temperature : float
        Of the oil [K].
    group : str
        What is left out together in `leave_one_out`, such as both axles' dampers of one build; the build's own name
        when empty.

    Raises
    ------
    DomainError
        If the arrays do not fit together.
    """

    build: DamperBuild
    velocity: Floats
    force: Floats
    sigma: float | Floats
    temperature: float = 293.15
    group: str = ""

    def __post_init__(self) -> None:
        """Refuse arrays that do not belong together."""
        for key in ("velocity", "force"):
            object.__setattr__(self, key, np.array(getattr(self, key), dtype=np.float64))
        spread = np.broadcast_to(np.asarray(self.sigma, dtype=np.float64), self.velocity.shape).copy()
        object.__setattr__(self, "sigma", spread)
        v, f = self.velocity, self.force
        if v.ndim != 1 or v.size == 0 or v.shape != f.shape:
            raise DomainError(f"{self.name}: {v.size} velocities and {f.size} forces; as many of each are needed")
        if not (np.all(np.isfinite(v)) and np.all(np.isfinite(f)) and np.all(np.isfinite(spread))):
            raise DomainError(f"{self.name}: the run holds a value that is not a number")
        if np.any(np.diff(v) <= 0.0) or np.any(v == 0.0):
            raise DomainError(f"{self.name}: velocities must rise, and none be 0 where friction has no sign")
        if np.any(spread <= 0.0):
            raise DomainError(f"{self.name}: a force without scatter cannot be; give the dyno's, such as 5 N")

    @property
    def name(self) -> str:
        """Of the build."""
        return self.build.name


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """One parameter after the fit, SI.

    Parameters
    ----------
    name : str
        As in `Parameters`.
    value, sigma : float
        Fitted value and its standard deviation.
    low, high : float
        Ends of the interval at the fit's confidence.
    assumed, assumed_sigma : float
        What was believed before.
    knowledge : str
        "from the data" when the scatter fell below half of what was believed, "as assumed" when it kept nine tenths
        of it or more, "partly" between; "at its bound" when the range of the parameter holds it.
    """

    name: str
    value: float
    sigma: float
    low: float
    high: float
    assumed: float
    assumed_sigma: float
    knowledge: Knowledge


@dataclass(frozen=True, kw_only=True, eq=False)
class Calibration:
    """What a fit gave.

    Parameters
    ----------
    parameters : Parameters
        Fitted ones, the others as they were.
    estimates : tuple of Estimate
    covariance, correlation : array (p, p)
        Of the fitted parameters in their order.
    confidence : float
        Of the intervals [-].
    scatter : float
        Root mean square of the scaled residuals [-]: 1 says that the model misses by what the dyno scatters.
    residuals : mapping of str to array
        Model less measured force of each build [N].
    """

    parameters: Parameters
    estimates: tuple[Estimate, ...]
    covariance: Floats
    correlation: Floats
    confidence: float
    scatter: float
    residuals: Mapping[str, Floats]

    @property
    def pairs(self) -> tuple[tuple[str, str, float], ...]:
        """Parameters that the data tell only together, with their correlation, strongest first."""
        names = [one.name for one in self.estimates]
        found = [
            (names[i], names[j], float(self.correlation[i, j]))
            for i in range(len(names))
            for j in range(i + 1, len(names))
            if abs(self.correlation[i, j]) > TOGETHER
        ]
        return tuple(sorted(found, key=lambda pair: -abs(pair[2])))

    @property
    def words(self) -> tuple[str, ...]:
        """What an engineer must know of the fit before using it."""
        said = []
        for one in self.estimates:
            title = one.name.replace("_", " ")
            if one.knowledge == "as assumed":
                said.append(f"these runs say nothing of the {title}: it stays as assumed")
            elif one.knowledge == "at its bound":
                said.append(
                    f"the {title} ran to the end of its range: something that the model leaves out may be in it"
                )
        for first, second, how in self.pairs:
            said.append(
                f"{first.replace('_', ' ')} and {second.replace('_', ' ')} are known together only "
                f"(correlation {how:+.2f}): their {'sum' if how < 0.0 else 'difference'} is told, not each"
            )
        if self.scatter > 2.0:
            said.append(
                f"the model misses by {self.scatter:.1f} times the dyno's scatter; the intervals are widened by that"
            )
        return tuple(said)


def predict(
    build: DamperBuild,
    velocity: Floats,
    *,
    parameters: Parameters,
    temperature: float = 293.15,
    lifts: LiftTables | None = None,
) -> Floats:
    """Return the force that a dyno would show with the gas force taken off and friction left in [N].

    Parameters
    ----------
    build : DamperBuild
    velocity : array (n,)
        Rising, positive in compression [m/s].
    parameters, temperature, lifts
        As of `assembly.force_at`.
    """
    state = solve(assemble(build, parameters=parameters, lifts=lifts), velocities=velocity, temperature=temperature)
    return np.asarray(state.force - state.gas_force)


def calibrate(
    observations: Sequence[Observation],
    *,
    start: Parameters | None = None,
    spread: Mapping[str, float] | None = None,
    confidence: float = 0.95,
    lifts: LiftTables | None = None,
) -> Calibration:
    """Fit parameters to one or more dynoed builds.

    Least squares on residuals over the dyno's scatter, with what is believed of each parameter as one more residual
    (a Gaussian prior): a parameter of which the runs say nothing stays where it was, and the result says so.

    Parameters
    ----------
    observations : sequence of Observation
    start : Parameters, optional
        What is believed: the fit starts there.
    spread : mapping of str to float, optional
        Parameters to fit and the standard deviation of what is believed of each (SI); `SPREAD` unless given. Friction
        is fitted only where a build's body states none.
    confidence : float
        Of the intervals [-], above 0 and below 1.
    lifts : LiftTables, optional
        Memory of solved stacks; `SeatGridTables` unless given.

    Returns
    -------
    Calibration
        Where the model misses by more than the scatter, the covariance is widened by the square of that.

    Raises
    ------
    DomainError
        If there is nothing to fit, or a parameter is unknown.
    SolverError
        If the fit does not end, with its numbers.

    References
    ----------
    .. [1] G. A. F. Seber and C. J. Wild, Nonlinear Regression, Wiley 1989, ch. 2 and 5 (covariance from the Jacobian,
       intervals by Student's t; from memory).
    """
    if not observations:
        raise DomainError("there is no dyno run to fit to; one build at least is needed")
    if not 0.0 < confidence < 1.0:
        raise DomainError(f"confidence {confidence:g}; it lies between 0 and 1, such as 0.95")
    first = Parameters() if start is None else start
    wide = dict(SPREAD if spread is None else spread)
    known = {one.name for one in fields(Parameters)} - {"delay"}
    for name, value in wide.items():
        if name not in known:
            raise DomainError(f"there is no parameter {name!r} to fit; known are {', '.join(sorted(known))}")
        if not (math.isfinite(value) and value > 0.0):
            raise DomainError(f"spread of the {name.replace('_', ' ')} is {value:g}; it must be above 0")
    if all(one.build.body.friction is not None for one in observations):
        wide.pop("seal_friction", None)
    if not wide:
        raise DomainError("no parameter is left to fit")
    names = tuple(wide)
    centre = np.array([getattr(first, name) for name in names])
    size = np.array([wide[name] for name in names])
    low = (np.array([RANGES[name][0] for name in names]) - centre) / size
    high = (np.array([RANGES[name][1] for name in names]) - centre) / size
    memory = SeatGridTables() if lifts is None else lifts
    count = sum(one.velocity.size for one in observations)

    def at(x: Floats) -> Parameters:
        # rounding must not carry a value past the range that holds it
        values = {
            name: min(max(float(value), RANGES[name][0]), RANGES[name][1])
            for name, value in zip(names, centre + size * x, strict=True)
        }
        return replace(first, **values)

    last: list[tuple[Floats, Floats]] = []

    def residual(x: Floats) -> Floats:
        if last and np.array_equal(last[0][0], x):
            return last[0][1]
        now = at(x)
        parts = [
            (predict(o.build, o.velocity, parameters=now, temperature=o.temperature, lifts=memory) - o.force) / o.sigma
            for o in observations
        ]
        value = np.concatenate([*parts, x])
        last[:] = [(x.copy(), value)]  # the slopes ask for it again
        return value

    def slopes(x: Floats) -> Floats:
        here = residual(x)
        columns = []
        for i in range(x.size):
            step = _STEP if x[i] + _STEP <= high[i] else -_STEP
            there = x.copy()
            there[i] += step
            columns.append((residual(there) - here) / step)
        return np.stack(columns, axis=1)

    def descend(x: Floats) -> OptimizeResult:
        inside = np.clip(x, low + 1e-6, high - 1e-6)
        return least_squares(
            residual,
            inside,
            jac=slopes,
            bounds=(low, high),
            max_nfev=_MOST_EVALUATIONS,
            xtol=1e-4,
            ftol=1e-6,
            gtol=1e-5,
        )

    fit = descend(np.zeros(len(names)))
    # a valve that opens just below or just above a dynoed speed makes two valleys: where the runs are not met, look
    # into those beside this one
    met = fit.status > 0 and 2.0 * fit.cost <= float(chi2.ppf(0.99, count))
    beside = [] if met else [(name, turn) for name in _VALLEYS if name in names for turn in (1.0, -1.0)]
    for name, turn in beside:
        moved = np.array(fit.x)
        moved[names.index(name)] += turn
        other = descend(moved)
        if other.status > 0 and (fit.status <= 0 or other.cost < 0.999 * fit.cost):
            fit = other
    if fit.status <= 0:
        raise SolverError(
            f"the calibration did not end in {fit.nfev} evaluations: half the sum of squares {fit.cost:.4g}, "
            f"optimality {fit.optimality:.2g}"
        )
    jacobian = np.asarray(fit.jac)[:count]
    scaled = np.asarray(fit.fun)[:count]
    information = jacobian.T @ jacobian
    told = float(np.trace(np.linalg.solve(information + np.eye(len(names)), information)))
    freedom = max(count - told, 1.0)
    ratio = float(np.sum(scaled**2)) / freedom
    covariance = np.linalg.inv(information / max(ratio, 1.0) + np.eye(len(names)))
    sigma = np.sqrt(np.diag(covariance))
    reach = float(student.ppf(0.5 + 0.5 * confidence, freedom))
    fitted = at(fit.x)
    estimates = tuple(
        Estimate(
            name=name,
            value=float(getattr(fitted, name)),
            sigma=float(sigma[i] * size[i]),
            low=max(float(centre[i] + size[i] * (fit.x[i] - reach * sigma[i])), RANGES[name][0]),
            high=min(float(centre[i] + size[i] * (fit.x[i] + reach * sigma[i])), RANGES[name][1]),
            assumed=float(centre[i]),
            assumed_sigma=float(size[i]),
            knowledge=_knowledge(float(sigma[i]), bool(fit.active_mask[i])),
        )
        for i, name in enumerate(names)
    )
    ends = np.cumsum([o.velocity.size for o in observations])[:-1]
    return Calibration(
        parameters=fitted,
        estimates=estimates,
        covariance=covariance * np.outer(size, size),
        correlation=covariance / np.outer(sigma, sigma),
        confidence=confidence,
        scatter=math.sqrt(ratio),
        residuals={
            o.name: np.asarray(part * o.sigma) for o, part in zip(observations, np.split(scaled, ends), strict=True)
        },
    )


def _knowledge(share: float, bound: bool) -> Knowledge:
    """Say how much the data tell of a parameter, from its scatter over what was believed."""
    if bound:
        return "at its bound"
    if share < 0.5:
        return "from the data"
    return "as assumed" if share >= 0.9 else "partly"


@dataclass(frozen=True, kw_only=True)
class Misses:
    """How far a prediction lies from a measurement.

    Parameters
    ----------
    rms, worst : float
        Root mean square and largest difference [N].
    share, worst_share : float
        Root mean square of the difference over that of the force, and the largest difference over the force there
        (over a tenth of the stroke's largest force where the force is smaller) [-].
    """

    rms: float
    worst: float
    share: float
    worst_share: float


def misses(predicted: Floats, measured: Floats) -> Misses:
    """Compare predicted and measured forces (n,) [N], both signed.

    Examples
    --------
    >>> found = misses(np.array([-90.0, 220.0]), np.array([-100.0, 200.0]))
    >>> round(found.rms, 2), found.worst, round(found.share, 3), found.worst_share
    (15.81, 20.0, 0.1, 0.1)
    """
    off = np.abs(predicted - measured)
    size = np.abs(measured)
    floor = np.where(
        measured >= 0.0, 0.1 * np.max(size, where=measured >= 0.0, initial=1e-9),
        0.1 * np.max(size, where=measured < 0.0, initial=1e-9),
    )  # fmt: skip
    rms = float(np.sqrt(np.mean(off**2)))
    return Misses(
        rms=rms,
        worst=float(np.max(off)),
        share=rms / max(float(np.sqrt(np.mean(size**2))), 1e-9),
        worst_share=float(np.max(off / np.maximum(size, floor))),
    )


@dataclass(frozen=True, kw_only=True)
class HeldOut:
    """One build, or group of runs, predicted from the others.

    Parameters
    ----------
    name : str
        Of the group.
    before, after : Misses
        With what is believed, and with what the other builds' runs gave.
    """

    name: str
    before: Misses
    after: Misses


def leave_one_out(
    observations: Sequence[Observation],
    *,
    start: Parameters | None = None,
    spread: Mapping[str, float] | None = None,
    lifts: LiftTables | None = None,
) -> tuple[HeldOut, ...]:
    """Fit to all builds but one and predict that one, for each in turn.

    Parameters
    ----------
    observations : sequence of Observation
        Of two groups at least.
    start, spread, lifts
        As of `calibrate`.

    Raises
    ------
    DomainError
        If there is only one build.
    """
    names = list(dict.fromkeys(one.group or one.name for one in observations))
    if len(names) < 2:
        raise DomainError("one build cannot be left out of one; dyno a second build")
    first = Parameters() if start is None else start
    memory = SeatGridTables() if lifts is None else lifts
    out = []
    for name in names:
        rest = [one for one in observations if (one.group or one.name) != name]
        fitted = calibrate(rest, start=first, spread=spread, lifts=memory).parameters
        held = [one for one in observations if (one.group or one.name) == name]
        measured = np.concatenate([one.force for one in held])
        before, after = (
            np.concatenate(
                [
                    predict(one.build, one.velocity, parameters=p, temperature=one.temperature, lifts=memory)
                    for one in held
                ]
            )
            for p in (first, fitted)
        )
        out.append(HeldOut(name=name, before=misses(before, measured), after=misses(after, measured)))
    return tuple(out)
