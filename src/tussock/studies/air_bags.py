"""Air helper bags as an axle wears them: their force over what they stand beside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.springs import AirBag
from tussock.studies.job import KERB, Job, Setup

Force = Callable[[Floats], Floats]
DRIVING = 1.3  # polytropic exponent of a bag in motion, between 1 (slow) and 1.4; common practice, no source


@dataclass(frozen=True, kw_only=True)
class BagFitted:
    """A bag on either side of one axle.

    Attributes
    ----------
    name, title : str
        Of the bag.
    beside : str
        "spring" or "stop".
    pressure : float
        Over the air's, set when the vehicle stands in its fit-out [Pa].
    bag : AirBag
        Filled so at its height at stock kerb.
    least, most : float
        Pressures allowed [Pa].
    """

    name: str
    title: str
    beside: Literal["spring", "stop"]
    pressure: float
    bag: AirBag
    least: float
    most: float

    @property
    def kerb_height(self) -> float:
        """Height at stock kerb [m]."""
        return self.bag.fill_height

    def force(self, axle: AxleMap, stands: float | None) -> Force:
        """Return its force over the length of what it stands beside, as the axle's map counts that [N].

        Parameters
        ----------
        axle : AxleMap
            Of the axle.
        stands : float, optional
            Height at which it was filled and closed [m]; left out, its line holds the pressure at every height.
        """
        shift = self.kerb_height - self.kerb_length(axle)
        if stands is None:
            return lambda length: self.bag.held_forces(length + shift)
        closed = self.bag.refilled(float(np.clip(stands, *self.reach)), self.pressure)
        return lambda length: closed.forces(length + shift)

    @property
    def reach(self) -> tuple[float, float]:
        """Least and greatest height of its curve [m]."""
        return self.bag.least_load_length, self.bag.free_length

    def heights(self, axle: AxleMap, heave: float, roll: float) -> Floats:
        """Return its height on the left and on the right at a heave [m] and roll [rad] of the axle (2,) [m]."""
        return np.asarray(self.along(axle, np.array([heave]), roll)[0])

    def along(self, axle: AxleMap, heave: Floats, roll: float) -> Floats:
        """Return its heights at heaves (n,) [m] and a roll [rad] of the axle (n, 2) [m]."""
        return np.asarray(axle.read(self.beside, heave, roll) - self.kerb_length(axle) + self.kerb_height)

    def kerb_length(self, axle: AxleMap) -> float:
        """Return the length of what it stands beside at stock kerb height, as the axle's map counts it [m]."""
        return float(np.mean(axle.read(self.beside, 0.0, 0.0)))


def bag_of(name: str, record: Any, pressure: float) -> BagFitted:
    """Return a bag of the record at a pressure [Pa]; DomainError for a curve or a volume that cannot be."""
    height = np.array([point.at for point in record.loads])
    area = np.array([point.force for point in record.loads]) / float(record.loads_at)
    return BagFitted(
        name=name,
        title=record.title,
        beside=record.beside,
        pressure=pressure,
        bag=AirBag(
            height=height,
            area=area,
            fill_height=float(record.height),
            fill_pressure=pressure,
            fill_volume=float(record.volume),
            exponent=DRIVING,
        ),
        least=float(record.least_pressure),
        most=float(record.most_pressure),
    )


def fitted_bag(job: Job, setup: Setup, end: str) -> BagFitted | None:
    """Return the bag that a fit-out wears on an axle; None at kerb, on the stock vehicle or where it has none."""
    if setup.stock or setup.fitout == KERB:
        return None
    for name, pressure in job.programme.fitouts[setup.fitout].bags.items():
        record = job.programme.kit.bags[name]
        if record.axle == end:
            return bag_of(name, record, float(pressure))
    return None
