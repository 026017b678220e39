"""Vehicle parameters from measured drives, by simulation: those with which the model drives as the vehicle did.

The model is driven with parameters spread over what is thought possible, each time on another road of the same kind.
Every figure (`statistics`) becomes a curved function of the parameters, and what is left over is how figures scatter
from road to road. The parameters are then those whose figures are nearest to the measured ones, in that scatter.

References
----------
.. [1] C. Gourieroux, A. Monfort, E. Renault, Indirect inference, J. Appl. Econometrics 8 (1993) S85: estimates from
   figures that a simulation gives as well, their covariance (G S G' with the gain G and the scatter S; from memory).
.. [2] O. Ledoit, M. Wolf, J. Multivariate Analysis 88 (2004) 365: shrinking a covariance (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import norm, qmc

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats

PRIOR = 0.6
"""Standard deviation of a parameter before the drives, in half widths of its span [-]; weak: the span is about 1.7."""
SURE = 4.0
"""A slope of a figure counts from so many of its standard deviations on."""
ENOUGH = 3
"""Simulated points for each term of the figures' functions."""
UNDETERMINED = 0.5
"""A parameter whose scatter stays above this share of what it was before is not determined by the data [-]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Parameter:
    """One uncertain parameter: its name, and the span of its factor on the model's value, low < 1 < high.

    Inside it is the logarithm, so that half and double are as far.
    """

    key: str
    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse a span that is none."""
        if not 0.0 < self.low < self.high < math.inf:
            raise DomainError(f"{self.key}: from {self.low:g} to {self.high:g}; a factor's span rises from above 0")

    def factor(self, theta: float) -> float:
        """Return the factor at theta, -1 (low) to 1 (high)."""
        return math.exp(0.5 * (math.log(self.high * self.low) + theta * math.log(self.high / self.low)))

    def theta(self, factor: float) -> float:
        """Return theta of a factor."""
        return (2.0 * math.log(factor) - math.log(self.high * self.low)) / math.log(self.high / self.low)


def design(count: int, *, centre: Floats, half: float, seed: int) -> Floats:
    """Return points (count, p) spread evenly about a centre by a half width, in theta (Latin hypercube)."""
    cube = qmc.LatinHypercube(centre.size, rng=np.random.default_rng(seed)).random(count)
    return np.asarray(centre + half * (2.0 * cube - 1.0))


def _terms(x: Floats, *, crossed: bool) -> Floats:
    """Return 1, x_i, x_i^2 of points (n, p), and x_i x_j where asked: (n, 1 + 2 p) or p (p - 1) / 2 more."""
    i, j = np.triu_indices(x.shape[1] if crossed else 0, 1)
    return np.concatenate([np.ones((x.shape[0], 1)), x, x**2, x[:, i] * x[:, j]], axis=1)


@dataclass(frozen=True, eq=False)
class Emulator:
    """Figures as functions of the parameters, curved along each, with their scatter from road to road.

    Where there are `ENOUGH` points for a term, what one parameter does may hang on another one.

    Attributes
    ----------
    parameters : tuple of Parameter
        In the order of theta.
    names : tuple of str
        Of the figures.
    blocks : array (k,)
        Which section each figure belongs to: figures of different sections scatter independently.
    points, figures : array (n, p), (n, k)
        What was simulated.
    """

    parameters: tuple[Parameter, ...]
    names: tuple[str, ...]
    blocks: np.ndarray[tuple[int], np.dtype[np.int64]]
    points: Floats
    figures: Floats

    def __post_init__(self) -> None:
        """Refuse too few points, and figures that do not belong to them."""
        n, p = self.points.shape
        if self.figures.shape != (n, len(self.names)) or self.blocks.shape != (len(self.names),):
            raise DomainError("points, figures, names and blocks do not belong together")
        least = ENOUGH * (1 + 2 * p)
        if n < least:
            raise DomainError(f"{n} simulated points for {p} parameters; at least {least} are needed")

    @cached_property
    def _centre(self) -> Floats:
        return np.asarray(0.5 * (self.points.max(axis=0) + self.points.min(axis=0)))

    @cached_property
    def _half(self) -> Floats:
        return np.asarray(0.5 * (self.points.max(axis=0) - self.points.min(axis=0)))

    @cached_property
    def crossed(self) -> bool:
        """Whether the points carry products of two parameters."""
        n, p = self.points.shape
        return bool(n >= ENOUGH * (1 + 2 * p + p * (p - 1) // 2))

    def _at(self, points: Floats) -> Floats:
        """Return the terms of points (n, p)."""
        return _terms((points - self._centre) / self._half, crossed=self.crossed)

    @cached_property
    def _basis(self) -> Floats:
        return self._at(self.points)

    @cached_property
    def coefficients(self) -> Floats:
        """Of the terms (m, k): least squares over all points, with the terms that stand clear of chance.

        Hundreds of figures each carry a little chance in every slope; kept, it passes for information, and intervals
        come out half as wide as they are.
        """
        basis, figures = self._basis, self.figures
        first = np.linalg.lstsq(basis, figures, rcond=None)[0]
        spread = np.sqrt(np.diag(np.linalg.inv(basis.T @ basis)))
        size = np.sqrt(np.sum((figures - basis @ first) ** 2, axis=0) / (basis.shape[0] - basis.shape[1]))
        sure = np.abs(first) >= SURE * spread[:, None] * np.maximum(size, 1e-12)[None, :]
        sure[0] = True
        out = np.zeros_like(first)
        for j in range(figures.shape[1]):
            kept = sure[:, j]
            out[kept, j] = np.linalg.lstsq(basis[:, kept], figures[:, j], rcond=None)[0]
        return out

    @cached_property
    def scatter(self) -> Floats:
        """What each point's figures differ from the functions (n, k)."""
        return np.asarray(self.figures - self._basis @ self.coefficients)

    def at(self, theta: Floats) -> Floats:
        """Return the figures expected at a point."""
        return np.asarray(self._at(theta[None, :])[0] @ self.coefficients)

    def slopes(self, theta: Floats) -> Floats:
        """Return their slopes (k, p)."""
        p, x = theta.size, (theta - self._centre) / self._half
        own, bent = self.coefficients[1 : 1 + p], self.coefficients[1 + p : 1 + 2 * p]
        slopes = own + 2.0 * x[:, None] * bent
        if self.crossed:
            i, j = np.triu_indices(p, 1)
            both = self.coefficients[1 + 2 * p :]
            np.add.at(slopes, i, both * x[j, None])
            np.add.at(slopes, j, both * x[i, None])
        return np.asarray(slopes.T / self._half)

    def chance(self, theta: Floats) -> float:
        """Return the variance of a drive's figures about the functions at a point, over that of `scatter` [-].

        The functions were fitted to the same points: their scatter is too small by the terms fitted, and the functions
        themselves are off by chance, the more the further out (prediction variance of least squares). A term that was
        dropped because it did not stand clear of chance may be wrong by as much as it would have been if kept.
        """
        n, terms = self._basis.shape
        there = self._at(theta[None, :])[0]
        leverage = float(there @ np.linalg.solve(self._basis.T @ self._basis, there))
        return float(n / (n - terms) * (1.0 + leverage))

    def near(self, theta: Floats, *, margin: float = 1.0) -> bool:
        """Whether a point lies inside the spread of the simulated ones."""
        return bool(np.all(np.abs(theta - self._centre) <= margin * self._half))

    def kept(self, names: Sequence[str]) -> Emulator:
        """Return the emulator of some of the figures, in their order."""
        place = {name: i for i, name in enumerate(self.names)}
        missing = [n for n in names if n not in place]
        if missing:
            raise DomainError(f"the simulation has no {missing[0]!r}")
        index = np.array([place[n] for n in names])
        return Emulator(self.parameters, tuple(names), self.blocks[index], self.points, self.figures[:, index])


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """What the drives say of the parameters.

    Attributes
    ----------
    parameters : tuple of Parameter
    theta, sigma : array (p,)
        Estimate and standard deviation, in half widths of the spans.
    covariance : array (p, p)
    before : array (p,)
        Standard deviation before the drives.
    misfit : float
        Weighted mean square of what is left, over what chance leaves: near 1 when the model can drive like the vehicle.
    misfit_limit : float
        What chance exceeds once in a hundred: 99 % point over the simulated roads.
    """

    parameters: tuple[Parameter, ...]
    theta: Floats
    sigma: Floats
    covariance: Floats
    before: float
    misfit: float
    misfit_limit: float

    def factor(self, key: str) -> float:
        """Return the factor found."""
        i = self._place(key)
        return self.parameters[i].factor(float(self.theta[i]))

    def interval(self, key: str, level: float = 0.9) -> tuple[float, float]:
        """Return the interval of a factor."""
        i = self._place(key)
        half = float(norm.ppf(0.5 + 0.5 * level)) * float(self.sigma[i])
        p = self.parameters[i]
        return p.factor(float(self.theta[i]) - half), p.factor(float(self.theta[i]) + half)

    def determined(self, key: str) -> bool:
        """Whether the drives say more of the parameter than was known before."""
        return float(self.sigma[self._place(key)]) < UNDETERMINED * self.before

    def twin(self, key: str) -> tuple[str, float] | None:
        """Return the parameter that is hardest to tell from this one, and their correlation, if above 0.8."""
        i = self._place(key)
        c = self.covariance[i] / (self.sigma[i] * self.sigma)
        c[i] = 0.0
        j = int(np.argmax(np.abs(c)))
        return (self.parameters[j].key, float(c[j])) if abs(c[j]) > 0.8 else None

    def _place(self, key: str) -> int:
        for i, p in enumerate(self.parameters):
            if p.key == key:
                return i
        raise DomainError(f"no parameter {key!r}; there are {', '.join(p.key for p in self.parameters)}")


def estimate(emulator: Emulator, measured: Floats, *, noise: Floats | None = None) -> Fit:
    """Return the parameters whose figures are nearest to the measured ones.

    Parameters
    ----------
    emulator : Emulator
        Of the figures that were measured, in their order (`Emulator.kept`).
    measured : array (k,)
        The figures.
    noise : array (k,), optional
        Standard deviation of each figure by what the instruments add, beside the scatter of roads.

    Raises
    ------
    DomainError
        If the figures are not those of the emulator, or not numbers.
    SolverError
        If no least misfit is found; says how far it came.
    """
    if measured.shape != (len(emulator.names),) or not np.all(np.isfinite(measured)):
        raise DomainError(f"{measured.size} measured figures for {len(emulator.names)}; all must be numbers")
    # one half of the simulated roads gives the weights, the other the scatter: the same ones would flatter
    left = emulator.scatter
    weigh, judge = left[::2], left[1::2]
    extra = np.zeros(measured.size) if noise is None else noise**2
    half = _whitener(weigh, emulator.blocks, extra)
    p = len(emulator.parameters)

    def residual(theta: Floats) -> Floats:
        return np.concatenate([half @ (emulator.at(theta) - measured), theta / PRIOR])

    def slope(theta: Floats) -> Floats:
        return np.concatenate([half @ emulator.slopes(theta), np.eye(p) / PRIOR])

    best = None
    for start in (np.zeros(p), np.full(p, 0.5), np.full(p, -0.5)):
        got = least_squares(residual, start, jac=slope, method="trf", x_scale=1.0, max_nfev=200)
        if got.success and (best is None or got.cost < best.cost):
            best = got
    if best is None:
        raise SolverError(f"no least misfit of {p} parameters to {measured.size} figures after 600 evaluations")
    theta = np.asarray(best.x, dtype=np.float64)
    j = half @ emulator.slopes(theta)
    gain = np.linalg.solve(j.T @ j + np.eye(p) / PRIOR**2, j.T)
    moved = judge @ half.T @ gain.T
    covariance = emulator.chance(theta) * moved.T @ moved / judge.shape[0]
    if noise is not None:
        covariance += (gain @ half * extra) @ (gain @ half).T
    # what the prior pulls: the estimate is short of the truth by the share that the data leave
    short = np.eye(p) - gain @ j
    covariance += PRIOR**2 * short @ short.T
    sigma = np.sqrt(np.diag(covariance))
    rest = judge @ (np.eye(measured.size) - emulator.slopes(theta) @ gain @ half).T @ half.T
    usual = np.mean(rest**2, axis=1)
    here = half @ (emulator.at(theta) - measured)
    level = float(np.mean(usual))
    return Fit(
        parameters=emulator.parameters,
        theta=theta,
        sigma=np.asarray(sigma),
        covariance=np.asarray(covariance),
        before=PRIOR,
        misfit=float(np.mean(here**2)) / level,
        misfit_limit=float(np.quantile(usual, 0.99)) / level,
    )


def _whitener(scatter: Floats, blocks: Floats | np.ndarray[tuple[int], np.dtype[np.int64]], extra: Floats) -> Floats:
    """Return the inverse square root of the scatter's covariance, block by block, shrunk towards its diagonal [2]_."""
    out = np.zeros((scatter.shape[1], scatter.shape[1]))
    for block in np.unique(blocks):
        at = np.flatnonzero(blocks == block)
        x = scatter[:, at]
        size = np.maximum(np.std(x, axis=0), 1e-9)
        z = x / size
        n, k = z.shape
        c = z.T @ z / n
        away = c - np.diag(np.diag(c))
        # spread of the off-diagonal estimates over their square: how much of them is chance
        chance = float(np.sum((z**2).T @ (z**2) / n - c**2) - np.sum(np.diag((z**2).T @ (z**2) / n - c**2))) / n
        keep = 1.0 - min(max(chance / max(float(np.sum(away**2)), 1e-12), 0.0), 1.0) if k > 1 else 1.0
        whole = np.diag(np.diag(c)) + keep * away + np.diag(extra[at] / size**2) + 1e-6 * np.eye(k)
        values, vectors = np.linalg.eigh(whole)
        root = vectors / np.sqrt(np.maximum(values, 1e-6)) @ vectors.T
        out[np.ix_(at, at)] = root / size[None, :]
    return out
