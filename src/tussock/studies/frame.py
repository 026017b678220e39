"""The frame of a programme's vehicle as the motion needs it."""

from __future__ import annotations

from dataclasses import replace

from tussock.mechanics.motion import Frame, Vehicle
from tussock.studies.job import Job

_LEAST, _MOST = 0.05, 0.95  # share of an end


def framed(job: Job, vehicle: Vehicle) -> Vehicle:
    """Return the vehicle with the frame that its programme says; the same one where it says none.

    Without `front_share` the body's roll inertia is shared between its ends as its mass is, by the lever rule.
    """
    said = job.programme.vehicle.frame
    if said is None:
        return vehicle
    share = (vehicle.body.centre[0] - vehicle.rear.axle.design_x) / vehicle.wheelbase
    if said.front_share is not None:
        share = float(said.front_share)
    frame = Frame(
        stiffness=float(said.stiffness),
        damping=float(said.damping),
        front_share=min(max(share, _LEAST), _MOST),
    )
    return replace(vehicle, frame=frame)
