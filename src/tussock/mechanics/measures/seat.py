"""A seat cushion under a person: how much of the floor's vertical vibration reaches the seat surface.

The person is the linear two-mass model of Wei and Griffin [1]_: both masses hang beside each other on a frame that sits
on the cushion. Its apparent mass M(w) loads the cushion, so the seat surface moves with
(k + i w c) / (k + i w c - w^2 M(w)) times the floor. Up and down only; the person's weight and posture are the mean of
the published group, whatever the programme says of the driver.

References
----------
.. [1] Wei and Griffin 1998, The prediction of seat transmissibility from measures of seat impedance, J Sound Vib 214(1)
   121-137, two-degree-of-freedom model; parameters from memory, not seen: unsure.
.. [2] Fairley and Griffin 1989, The apparent mass of the seated human body: vertical vibration, J Biomech 22(2) 81-94:
   a main resonance near 5 Hz; from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.weighting import time_history

_RINGING = 4.0  # after which cushion and person have come to rest, lowest mode 1 Hz with a tenth of damping [s]


@dataclass(frozen=True, kw_only=True, slots=True)
class SeatedPerson:
    """Lumps of a seated person [1]_: a frame that sits on the seat, and masses on springs and dampers on it.

    Attributes
    ----------
    frame : float
        Mass that moves with the seat surface [kg].
    masses, stiffnesses, dampings : tuple of float
        Of the lumps on it [kg], [N/m], [N s/m].
    """

    frame: float = 6.7
    masses: tuple[float, ...] = (33.4, 10.7)
    stiffnesses: tuple[float, ...] = (35776.0, 38374.0)
    dampings: tuple[float, ...] = (761.0, 458.0)

    @property
    def sitting_mass(self) -> float:
        """Mass that the seat carries [kg]."""
        return self.frame + math.fsum(self.masses)

    def apparent_mass(self, frequency: Floats) -> npt.NDArray[np.complex128]:
        """Return force over acceleration at the seat surface at frequencies [Hz], complex [kg]."""
        w = 2.0 * math.pi * np.asarray(frequency, dtype=np.float64)
        total = np.full(w.shape, self.frame, dtype=np.complex128)
        for m, k, c in zip(self.masses, self.stiffnesses, self.dampings, strict=True):
            link = k + 1j * w * c
            total += m * link / (link - w * w * m)
        return total


@dataclass(frozen=True, kw_only=True, slots=True)
class Cushion:
    """A cushion with a person on it.

    Attributes
    ----------
    stiffness, damping : float
        Of the pressed cushion [N/m], [N s/m].
    person : SeatedPerson
        Who sits on it.

    Raises
    ------
    DomainError
        If the stiffness is not above 0 or the damping below 0.
    """

    stiffness: float
    damping: float
    person: SeatedPerson = SeatedPerson()

    def __post_init__(self) -> None:
        """Refuse a cushion that cannot be."""
        if not (math.isfinite(self.stiffness) and self.stiffness > 0.0):
            raise DomainError(f"cushion: stiffness {self.stiffness:g} N/m must be above 0")
        if not (math.isfinite(self.damping) and self.damping >= 0.0):
            raise DomainError(f"cushion: damping {self.damping:g} N s/m must not be below 0")

    def transmissibility(self, frequency: Floats) -> npt.NDArray[np.complex128]:
        """Return seat surface over floor at frequencies [Hz], complex [-]."""
        w = 2.0 * math.pi * np.asarray(frequency, dtype=np.float64)
        link = self.stiffness + 1j * w * self.damping
        return np.asarray(link / (link - w * w * self.person.apparent_mass(frequency)), dtype=np.complex128)

    def surface(self, floor: Floats, step: float) -> Floats:
        """Return the vertical acceleration of the seat surface (n,) from that of the floor [m/s^2], from rest.

        Parameters
        ----------
        floor : array (n,)
            [m/s^2].
        step : float
            Time step [s].
        """
        x = time_history(floor, step)
        count = next_fast_len(x.size + math.ceil(_RINGING / step), real=True)
        response = self.transmissibility(np.asarray(rfftfreq(count, step), dtype=np.float64))
        return np.asarray(irfft(rfft(x, count) * response, count)[: x.size], dtype=np.float64)


@dataclass(frozen=True, kw_only=True, slots=True)
class SeatPassesOn:
    """What a seat passes on, up and down: weighted r.m.s. with Wk at its rail and on its surface [m/s^2]."""

    rail: float
    surface: float

    @property
    def value(self) -> float:
        """SEAT value: surface over rail (ISO 10326-1, from memory) [-]; below 1 the seat isolates, 1 where all rest."""
        return self.surface / self.rail if self.rail > 0.0 else 1.0
