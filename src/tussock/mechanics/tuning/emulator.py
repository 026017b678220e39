"""What the simulation gives on the whole lattice, from some builds that were simulated: quadratics through logarithms.

Measures enter as logarithms, standardised over the builds simulated, and bent a little so that a bad one counts more
than a good one pays back. A measure that hardly changes, or that a quadratic does not follow, is dropped and said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.tuning.lattice import Lattice

CURVE = 0.3
"""How strongly a bad measure counts more than a good one: expm1(c z) / c [-]."""
FOLLOWED = 0.7
"""Least share of a measure's variance that a quadratic must explain of builds left out [-]."""
DEAD = 1e-4
"""Least standard deviation of a measure's logarithm [-]."""
_FAR = 3.5
_RIDGE = 1e-3
_FOLDS = 5


@dataclass(frozen=True, kw_only=True)
class Attribute:
    """What drivers judge, and which measures bear on it by their places; `shares` are the simulation's opinion.

    Attributes
    ----------
    name : str
        What it is called.
    measures : tuple of int
        Places of the measures.
    shares : tuple of float
        What each is believed to count, alike unless given [-].
    counts : float
        What the attribute is believed to count in the whole, over the others' [-].
    """

    name: str
    measures: tuple[int, ...]
    shares: tuple[float, ...] = ()
    counts: float = 1.0

    def __post_init__(self) -> None:
        """Refuse shares that do not fit."""
        if self.shares and (len(self.shares) != len(self.measures) or min(self.shares) <= 0.0):
            raise DomainError(f"{self.name}: {len(self.shares)} shares above 0 for {len(self.measures)} measures")
        if not self.counts > 0.0:
            raise DomainError(f"{self.name} counts {self.counts:g} in the whole; it counts something, or is left out")


@dataclass(frozen=True, kw_only=True, eq=False)
class Emulator:
    """Quadratics through the logarithms of simulated measures.

    Attributes
    ----------
    lattice : Lattice
        Of which builds.
    attributes : tuple of Attribute
        What drivers judge.
    coefficients : array (terms, measures)
        Of 1, x_i and x_i x_j (i <= j) over levels scaled to -1..1, for standardised logarithms.
    centre, spread : array (measures,)
        Of the logarithms over the builds simulated.
    followed : array (measures,)
        Share of the variance that is explained of builds left out [-].
    alive : array (measures,) of bool
        Whether a measure is used.
    """

    lattice: Lattice
    attributes: tuple[Attribute, ...]
    coefficients: Floats
    centre: Floats
    spread: Floats
    followed: Floats
    alive: np.ndarray

    @classmethod
    def fit(
        cls, lattice: Lattice, attributes: Sequence[Attribute], points: Ints, measures: Floats, *, seed: int = 0
    ) -> Emulator:
        """Return the emulator of simulated builds; call it again when the vehicle's model changes.

        Parameters
        ----------
        lattice, attributes
            As above.
        points : array (n, adjusters)
            Levels of the builds simulated.
        measures : array (n, measures)
            Logarithms of what was computed of them; more is worse.
        seed : int
            Of the folds that are left out in turn.

        Raises
        ------
        DomainError
            Fewer builds than twice the adjusters, a value that is not finite, or no measure that is left of some
            attribute.
        """
        x = lattice.scaled(points)
        if len(x) != len(measures) or measures.ndim != 2 or not np.all(np.isfinite(measures)):
            raise DomainError(f"{len(x)} builds and measures {measures.shape}: a row of finite figures for each build")
        if len(x) < 2 * len(lattice.counts):
            raise DomainError(f"{len(x)} simulated builds are too few for {len(lattice.counts)} adjusters")
        centre, spread = measures.mean(axis=0), measures.std(axis=0)
        moving = spread > DEAD
        z = (measures - centre) / np.where(moving, spread, 1.0)
        phi = _terms(x)
        missed = np.zeros_like(z)
        for out in np.array_split(np.random.default_rng(seed).permutation(len(x)), _FOLDS):
            kept = np.setdiff1d(np.arange(len(x)), out)
            missed[out] = z[out] - phi[out] @ _ridge(phi[kept], z[kept])
        followed = np.where(moving, 1.0 - np.mean(missed**2, axis=0), 0.0)
        alive = moving & (followed >= FOLLOWED)
        dead = [a.name for a in attributes if not any(alive[m] for m in a.measures)]
        if dead:
            raise DomainError(f"no measure of {', '.join(dead)} changes with the adjusters so that it can be emulated")
        return cls(
            lattice=lattice, attributes=tuple(attributes), coefficients=_ridge(phi, z), centre=centre,
            spread=np.where(moving, spread, 1.0), followed=followed, alive=alive,
        )  # fmt: skip

    @cached_property
    def _columns(self) -> tuple[Ints, Floats]:
        """Return places of the measures (attributes, k) and what each is believed to count, 0 where there is none."""
        used = [
            [(m, s) for m, s in zip(a.measures, a.shares or (1.0,) * len(a.measures), strict=True) if self.alive[m]]
            for a in self.attributes
        ]
        k = max(map(len, used))
        places, share = np.zeros((len(used), k), dtype=np.int64), np.zeros((len(used), k))
        for j, own in enumerate(used):
            total = sum(s for _, s in own)
            for i, (m, s) in enumerate(own):
                places[j, i], share[j, i] = m, s / total
        return places, share

    @property
    def shares(self) -> Floats:
        """What each measure of each attribute is believed to count (attributes, k); 0 where there is none."""
        return self._columns[1]

    @cached_property
    def standard_sums(self) -> Floats:
        """Standard deviation, over random safe builds, of each attribute as the simulation believes (attributes,)."""
        x = self.lattice.scaled(self.lattice.random(np.random.default_rng(0), 400))
        spread = np.std(np.einsum("njk,jk->nj", self.features(x), self.shares), axis=0)
        return np.where(spread > 0.0, spread, 1.0)

    def standard(self, x: Floats) -> Floats:
        """Return standardised logarithms at scaled levels (n, measures)."""
        return np.asarray(_terms(x) @ self.coefficients)

    def features(self, x: Floats) -> Floats:
        """Return bent measures by attribute at scaled levels (n, attributes, k); more is worse."""
        z = self.standard(x)
        # far above, on as a straight line: no kink on which a fit would stick
        inside = np.minimum(z, _FAR)
        bent = np.expm1(CURVE * inside) / CURVE + np.exp(CURVE * _FAR) * (z - inside)
        places, share = self._columns
        return np.asarray(bent[:, places] * (share > 0.0))

    def slopes(self, x: Floats, weights: Floats) -> Floats:
        """Return the derivatives of sum_k weights_jk features_jk by scaled levels (n, attributes, adjusters)."""
        a = x.shape[1]
        z = np.minimum(self.standard(x), _FAR)
        places, share = self._columns
        inner = np.exp(CURVE * z)[:, places] * (weights * (share > 0.0))  # (n, j, k)
        i, j = np.triu_indices(a)
        square = np.zeros((a, a, self.coefficients.shape[1]))
        square[i, j] = self.coefficients[1 + a :]
        square += square.transpose(1, 0, 2)
        by = np.tensordot(x, square, axes=(1, 0)) + self.coefficients[1 : 1 + a]  # (n, a, measures)
        return np.asarray(np.einsum("njk,najk->nja", inner, by[:, :, places], optimize=True))


def _terms(x: Floats) -> Floats:
    i, j = np.triu_indices(x.shape[1])
    return np.hstack([np.ones((len(x), 1)), x, x[:, i] * x[:, j]])


def _ridge(phi: Floats, z: Floats) -> Floats:
    return np.asarray(np.linalg.solve(phi.T @ phi + _RIDGE * len(phi) * np.eye(phi.shape[1]), phi.T @ z))
