"""What a solved stack tells: lift, contacts and stresses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats, Ints
from tussock.mechanics.dampers.stack.grid import GAUSS, Grid
from tussock.mechanics.dampers.stack.parts import Stack

#: Steepest slope for which moderate rotations are a fair model [rad]; sin and tan of it differ by 3 %.
STEEPEST = 0.25
_PLACES = np.array([0.0, *GAUSS, 1.0])


@dataclass(frozen=True, kw_only=True, eq=False)
class Contacts:
    """Every place where two parts may touch, sorted by upper part, then radius.

    Parameters
    ----------
    lower, upper : int array (C,)
        Numbers of the parts: 0 is the seat, 1..n the discs, n + 1 the backing washer.
    radius : array (C,)
        [m].
    force : array (C,)
        Of the whole circle, pushing the parts apart; 0 where they do not touch [N]. Single values are ragged at the
        end of a contact zone; sums over a zone are not.
    gap : array (C,)
        Free height between the faces [m].
    area : array (C,)
        Ring of the grid that belongs to the place [m^2].
    """

    lower: Ints
    upper: Ints
    radius: Floats
    force: Floats
    gap: Floats
    area: Floats

    @property
    def pressure(self) -> Floats:
        """Force over its ring of the grid, (C,) [Pa]."""
        return self.force / self.area

    def total(self, *, lower: int | None = None, upper: int | None = None) -> float:
        """Sum of the forces between the named parts [N]; None: any part."""
        chosen = np.ones(self.force.size, dtype=bool)
        if lower is not None:
            chosen &= self.lower == lower
        if upper is not None:
            chosen &= self.upper == upper
        return float(self.force[chosen].sum())


@dataclass(frozen=True, kw_only=True, eq=False)
class Stresses:
    """Stress of every disc, each array (n,).

    Parameters
    ----------
    equivalent : array
        Largest equivalent (von Mises) stress on either face [Pa].
    radius : array
        Where it stands [m].
    face : tuple of str
        On which face: "lower" looks at the seat.
    root : array
        Radial stress at the clamp on the lower face, tension positive [Pa].
    usage : array
        Largest equivalent stress over the material's fatigue strength [-].
    """

    equivalent: Floats
    radius: Floats
    face: tuple[Literal["lower", "upper"], ...]
    root: Floats
    usage: Floats


@dataclass(frozen=True, kw_only=True, eq=False)
class StackState:
    """One stack at one pressure.

    Parameters
    ----------
    stack : Stack
        What was solved.
    pressure : float
        [Pa].
    lift : float
        Free height at the outermost seat ring, or the deflection of the first disc's rim where there is no seat [m].
    tips : array (n,)
        Deflection of each disc's rim [m].
    seat_force : array (S,)
        On each seat ring, from the inside out [N].
    washer_force : float
        On the backing washer [N].
    contacts : Contacts
        Where parts touch.
    iterations : int
        Newton steps taken.
    """

    stack: Stack
    pressure: float
    lift: float
    tips: Floats
    seat_force: Floats
    washer_force: float
    contacts: Contacts
    iterations: int
    grid: Grid
    deflection: Floats
    membrane: Floats
    bubble: Floats
    linear: bool

    def profile(self, disc: int) -> tuple[Floats, Floats, Floats]:
        """Radius [m], deflection [m] and slope [rad] of a disc (1..n) from its clamp to its rim.

        Raises
        ------
        DomainError
            If there is no such disc.
        """
        if not 1 <= disc <= len(self.stack.discs):
            raise DomainError(f"disc {disc} asked; the stack has discs 1 to {len(self.stack.discs)}")
        part = slice(self.grid.clamp[disc - 1], self.grid.rim[disc - 1] + 1)
        return (
            self.grid.radius[part].copy(),
            self.deflection[disc - 1, part, 0].copy(),
            self.deflection[disc - 1, part, 1].copy(),
        )

    @property
    def steepest(self) -> float:
        """Largest slope of any disc [rad]."""
        return float(np.abs(self.deflection[..., 1]).max())

    def radial_stress(self, disc: int) -> tuple[Floats, Floats, Floats]:
        """Radius [m] and radial stress on the lower and the upper face [Pa] of a disc (1..n), clamp to rim.

        Five places in each element, its ends included; tension is positive.

        Raises
        ------
        DomainError
            If there is no such disc.
        """
        self.profile(disc)
        r, faces = _face_stresses(self)
        part = slice(self.grid.clamp[disc - 1], self.grid.rim[disc - 1])
        return r[part].ravel(), faces[0][0][disc - 1, part].ravel(), faces[1][0][disc - 1, part].ravel()

    @cached_property
    def stresses(self) -> Stresses:
        """Stress of every disc."""
        return _stresses(self)

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the engineer must know before trusting or building it."""
        out = []
        if self.steepest > STEEPEST:
            out.append(
                f"slope of {self.steepest:.2f} rad at {self.pressure * 1e-6:g} MPa: beyond {STEEPEST:g} rad the plate "
                "model is a rough guide"
            )
        stresses = self.stresses
        for number, usage in enumerate(stresses.usage, 1):
            if usage > 1.0:
                out.append(
                    f"disc {number} reaches {stresses.equivalent[number - 1] * 1e-6:.0f} MPa at "
                    f"{self.pressure * 1e-6:g} MPa, {usage:.2f} times the fatigue strength of "
                    f"{self.stack.discs[number - 1].material.name}"
                )
        return tuple(out)


@dataclass(frozen=True, kw_only=True, eq=False)
class LiftCurve:
    """A stack over pressure.

    Parameters
    ----------
    pressure : array (P,)
        As asked [Pa].
    lift : array (P,)
        See `StackState` [m].
    states : tuple of StackState
        One for each pressure.
    """

    pressure: Floats
    lift: Floats
    states: tuple[StackState, ...]

    @cached_property
    def usage(self) -> Floats:
        """Largest equivalent stress over fatigue strength of any disc, (P,) [-]."""
        return np.array([state.stresses.usage.max() for state in self.states])


def _face_stresses(state: StackState) -> tuple[Floats, list[tuple[Floats, Floats]]]:
    """Radius, and radial and hoop stress on lower and upper face, at element ends and Gauss points.

    Arrays are (n, M-1, 5), of all discs at once; the radius is (M-1, 5).
    """
    grid = state.grid
    h = np.diff(grid.radius)[:, None]
    x = _PLACES[None, :]
    r = grid.radius[:-1, None] + h * x
    w, b = state.deflection[..., 0], state.deflection[..., 1]
    w0, w1, b0, b1 = w[:, :-1, None], w[:, 1:, None], b[:, :-1, None], b[:, 1:, None]
    u0, u1, a = state.membrane[:, :-1, None], state.membrane[:, 1:, None], state.bubble[:, :, None]
    soft = grid.shear[:, None, None] / h**2
    chord = (w1 - w0) / h
    turn = 6.0 * x * (1.0 - x) * chord + (1.0 - x) * (1.0 - 3.0 * x + soft) * b0 + x * (3.0 * x - 2.0 + soft) * b1
    bend_r = (6.0 - 12.0 * x) * chord + (6.0 * x - 4.0 - soft) * b0 + (6.0 * x - 2.0 + soft) * b1
    turn, bend_r = turn / (1.0 + soft), bend_r / h / (1.0 + soft)
    slope = turn + soft / (1.0 + soft) * (chord - 0.5 * (b0 + b1))
    bend_t = turn / r
    # linked rotations carry the moment's change by shear force only; the hoop moment's share follows from equilibrium
    middle = _PLACES.size // 2
    missing = (bend_r - bend_t)[..., middle, None] / r[:, middle, None]
    bend_r = bend_r - (x - 0.5) * h * soft / (1.0 + soft) * missing
    first = np.arange(len(grid.clamp)), grid.clamp
    bend_r[first] *= grid.root[:, None]
    bend_t[first] *= grid.root[:, None]
    plane_r = (u1 - u0) / h + 4.0 * (1.0 - 2.0 * x) / h * a
    plane_t = ((1.0 - x) * u0 + x * u1 + 4.0 * x * (1.0 - x) * a) / r
    if not state.linear:
        plane_r = plane_r + 0.5 * slope**2
    nu = grid.poisson[:, None, None]
    factor = (grid.modulus / (1.0 - grid.poisson**2))[:, None, None]
    half = 0.5 * grid.thickness[:, None, None]
    faces = []
    for sign in (1.0, -1.0):  # the lower face is stretched where the curvature is positive
        strain_r, strain_t = plane_r + sign * half * bend_r, plane_t + sign * half * bend_t
        faces.append((factor * (strain_r + nu * strain_t), factor * (strain_t + nu * strain_r)))
    return r, faces


def _stresses(state: StackState) -> Stresses:
    """Reduce the faces' stresses to the largest of every disc."""
    grid = state.grid
    r, faces = _face_stresses(state)
    nodes = np.arange(grid.radius.size - 1)
    inside = (nodes >= grid.clamp[:, None]) & (nodes < grid.rim[:, None])
    equal = np.stack([np.sqrt(s * s - s * t + t * t) for s, t in faces])
    equal = np.where(inside[None, :, :, None], equal, 0.0)
    count = len(state.stack.discs)
    flat = equal.transpose(1, 0, 2, 3).reshape(count, -1)
    best = flat.argmax(axis=1)
    face, element, place = np.unravel_index(best, equal.shape[0:1] + equal.shape[2:])
    largest = flat[np.arange(count), best]
    strength = np.array([disc.material.fatigue_strength for disc in state.stack.discs])
    names: tuple[Literal["lower", "upper"], ...] = tuple("upper" if f else "lower" for f in face)
    return Stresses(
        equivalent=largest,
        radius=r[element, place],
        face=names,
        root=faces[0][0][np.arange(count), grid.clamp, 0],
        usage=largest / strength,
    )
