"""What the sensors of a data logger would show on a simulated vehicle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.interpolate import RectBivariateSpline

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.identify.statistics import WHEELS
from tussock.mechanics.motion import History, Rest, Vehicle

Lever = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Sensors:
    """A vehicle's sensors.

    Attributes
    ----------
    vehicle : Vehicle
        Whose.
    rest : Rest
        Where it stands.
    body : mapping
        Places of the body's accelerometers by key (``body_front_left`` ...), from the sprung centre of mass [m].
    seat : tuple of float
        Place of the seat's accelerometer likewise.
    """

    vehicle: Vehicle
    rest: Rest
    body: Mapping[str, Lever]
    seat: Lever

    @cached_property
    def _dampers(self) -> tuple[RectBivariateSpline, ...]:
        return tuple(
            RectBivariateSpline(a.axle.heave, a.axle.roll, a.axle.damper[:, :, side])
            for a in self.vehicle.axles
            for side in (0, 1)
        )

    def channels(self, history: History) -> dict[str, Floats]:
        """Return every channel (n,) at the history's times, in SI.

        ``damper_*`` shortening from the stock pose [m]; ``hub_*``, ``body_*``, ``seat_x/y/z`` accelerations along the
        body's axes [m/s^2], gravity not included; ``roll_rate``, ``pitch_rate``, ``yaw_rate`` [rad/s].
        """
        if history.position.shape[0] < 5:
            raise DomainError("a drive of fewer than five samples shows nothing")
        out: dict[str, Floats] = {}
        q, step = history.position, history.step
        theta, phi = q[:, 4], q[:, 5]
        for n, wheel in enumerate(WHEELS):
            a, sign = n // 2, 1.0 - 2.0 * (n % 2)
            axle = self.vehicle.axles[a].axle
            heave, roll = q[:, 6 + 2 * a], q[:, 7 + 2 * a]
            out[f"damper_{wheel}"] = self.stock_length(n) - self._dampers[n].ev(heave, roll)
            up = axle.centre_z0 - self.vehicle.body.centre[2] + heave + sign * 0.5 * axle.track * np.sin(roll)
            forward = axle.design_x - self.vehicle.body.centre[0]
            height = (
                q[:, 3]
                - np.sin(theta) * forward
                + np.cos(theta) * (np.sin(phi) * sign * 0.5 * axle.track + np.cos(phi) * up)
            )
            out[f"hub_{wheel}"] = np.gradient(np.gradient(height, step), step)
        for key, lever in self.body.items():
            out[key] = np.ascontiguousarray(history.acceleration_at(lever)[:, 2])
        seat = history.acceleration_at(self.seat)
        for i, axis in enumerate("xyz"):
            out[f"seat_{axis}"] = np.ascontiguousarray(seat[:, i])
        for i, name in enumerate(("roll_rate", "pitch_rate", "yaw_rate")):
            out[name] = np.ascontiguousarray(history.angular_velocity[:, i])
        return out

    def stock_length(self, n: int) -> float:
        """Return a damper's length in the stock pose [m]."""
        return float(self._dampers[n].ev(np.zeros(1), np.zeros(1))[0])

    @property
    def rest_channels(self) -> dict[str, float]:
        """Dampers' shortening where the vehicle stands, by key [m]."""
        return {
            f"damper_{wheel}": self.stock_length(n)
            - float(self._dampers[n].ev(self.rest.heave[n // 2 : n // 2 + 1], self.rest.roll[n // 2 : n // 2 + 1])[0])
            for n, wheel in enumerate(WHEELS)
        }


def usual_places(vehicle: Vehicle) -> dict[str, Lever]:
    """Return where body accelerometers usually sit: over each wheel, halfway in, at the height of the body's centre."""
    out: dict[str, Lever] = {}
    for n, wheel in enumerate(WHEELS):
        axle = vehicle.axles[n // 2].axle
        across = (1.0 - 2.0 * (n % 2)) * 0.3 * axle.track
        out[f"body_{wheel}"] = (axle.design_x - vehicle.body.centre[0], across - vehicle.body.centre[1], 0.0)
    return out
