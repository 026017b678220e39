"""A programme whose vehicle has a frame that twists."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tussock.errors import InputError
from tussock.mechanics.motion import linearise
from tussock.studies import loop, model

if TYPE_CHECKING:
    from vary_programme import Vary

    from tussock.studies.job import Job

SECTION = "cattle grid"


@pytest.fixture(scope="module")
def twisting(vary: Vary) -> Job:
    return vary({"vehicle.frame": {"stiffness": "3500 N m/deg", "damping": "0.06"}})


def test_the_programme_s_frame_reaches_every_build(twisting: Job, job: Job) -> None:
    assert model.vehicle(job, job.setup()).frame is None
    for setup in (twisting.setup(), twisting.setup("kerb", "stock")):
        vehicle = model.vehicle(twisting, setup)
        frame = vehicle.frame
        assert frame is not None
        assert frame.stiffness == pytest.approx(3500.0 * 57.29578, rel=1e-6)
        assert frame.damping == 0.06
        # shared as the body's mass is, by the lever rule
        lever = (vehicle.body.centre[0] - vehicle.rear.axle.design_x) / vehicle.wheelbase
        assert frame.front_share == pytest.approx(lever)


def test_modes_name_the_twist_and_a_section_is_driven_with_it(twisting: Job, job: Job) -> None:
    soft, rigid = (model.vehicle(one, one.setup()) for one in (twisting, job))
    mode = linearise(soft, speed=20.0).mode("frame twist")
    print(mode)
    assert mode.shape == "frame twist"
    assert 3.0 < mode.frequency < 20.0
    assert not any(m.shares["frame twist"] for m in linearise(rigid, speed=20.0).modes)
    runs = [loop.drive_one(one, one.setup(), SECTION) for one in (twisting, job)]
    seats = [run.measures["seat"] for run in runs]
    print(f"{SECTION}: seat {seats[0]:.3f} with the frame, {seats[1]:.3f} m/s^2 without")
    assert seats[0] != seats[1]
    assert seats[0] == pytest.approx(seats[1], rel=0.3)


@pytest.mark.parametrize(("field", "value"), [("stiffness", "0 N m/deg"), ("stiffness", "3500"), ("damping", "1.4")])
def test_a_frame_that_cannot_be_is_refused_when_the_programme_is_read(vary: Vary, field: str, value: str) -> None:
    with pytest.raises(InputError, match=f"frame.{field}"):
        vary({"vehicle.frame": {"stiffness": "3500 N m/deg", field: value}})
