"""One section of the loop: channels are those of the run that is measured, and the film stands where the run does."""

from __future__ import annotations

import numpy as np
import pytest

from tussock.errors import InputError
from tussock.release.figures import picture_svg
from tussock.release.figures.film import still
from tussock.release.film_json import film_json
from tussock.release.picture_data import picture_csv
from tussock.studies import loop, model, section
from tussock.studies.job import Job
from tussock.studies.result import Film, LineChart, Result
from tussock.studies.section_channels import CHANNELS, WHEELS, outline
from tussock.studies.section_film import wheel_centres

NAME = "potholes"


@pytest.fixture(scope="module")
def result(job: Job) -> Result:
    return section.study(job, section=NAME, channel="load_front_left")


def picture(result: Result, key: str) -> LineChart:
    found = next(p for p in result.pictures if p.key == key)
    assert isinstance(found, LineChart)
    return found


def film_of(result: Result) -> Film:
    found = next(p for p in result.pictures if p.key == "film")
    assert isinstance(found, Film)
    return found


def test_the_strip_has_every_section_with_what_the_drive_measured(job: Job, result: Result) -> None:
    setup = job.setup()
    strip = result.table("strip")
    assert [row[0] for row in strip.rows] == [s.name for s in job.programme.road_loop.sections]
    at = [c.key for c in strip.columns].index("seat")
    for row, run in zip(strip.rows, loop.drive_loop(job, setup), strict=True):
        assert row[at] == pytest.approx(run.measures["seat"])


def test_a_channel_is_read_from_the_run_that_is_measured(job: Job, result: Result) -> None:
    """The share of time without load is one of the drive's measures; the histogram's first class begins at no load."""
    run = loop.drive_one(job, job.setup(), NAME)
    vehicle = model.vehicle(job, job.setup())
    driven = next(s for s in loop.sections(job) if s.name == NAME)
    h = loop.loop_road(job, job.setup(), only=[NAME]).history(vehicle, model.rest(job, job.setup()), driven)
    about = loop.points(job).about(vehicle.body.centre)
    off = [np.mean(CHANNELS[f"load_{w.replace(' ', '_')}"].read(h, about) <= 0.0) for w in WHEELS]
    assert np.mean(off) == pytest.approx(run.measures["airborne"], abs=2e-4)
    for line in picture(result, "histogram").lines:
        assert sum(line.y) == pytest.approx(1.0)


def test_the_spectrum_holds_the_variance(job: Job) -> None:
    """Parseval: the density's integral over all frequencies is the variance; the seat moves within the band shown."""
    got = section.study(job, section="forest track", channel="seat_up")
    for line, label in zip(picture(got, "spectrum").lines, ("stock", "B3"), strict=True):
        total = np.trapezoid(np.square(line.y), line.x)
        assert total == pytest.approx(got.values[f"{label}_rms"] ** 2, rel=0.15)


def test_a_shortened_history_keeps_every_peak() -> None:
    time = np.arange(5000) * 0.002
    values = np.sin(time)
    values[3217], values[4001] = 9.0, -7.0
    at, kept = outline(time, values, 400)
    assert at.size <= 400
    assert np.all(np.diff(at) > 0.0)
    assert (kept.max(), kept.min()) == (9.0, -7.0)
    assert set(zip(at, kept, strict=True)) <= set(zip(time, values, strict=True))


def test_wheels_of_the_film_stand_on_the_road(job: Job) -> None:
    """At rest on level road a wheel's centre is its tyre's radius less load over stiffness above the ground."""
    setup = job.setup()
    vehicle, rest = model.vehicle(job, setup), model.rest(job, setup)
    driven = next(s for s in loop.sections(job) if s.name == "village humps")
    h = loop.loop_road(job, setup).history(vehicle, rest, driven)
    centre = wheel_centres(vehicle, h)[0, :, 2]
    tyre = job.programme.vehicle.tyre
    radius = float(tyre.free_radius)
    pressed = radius - centre
    assert np.all(pressed > 0.0)
    stiffness = h.wheel_load[0] / pressed
    assert stiffness == pytest.approx(np.full(4, vehicle.front.tyre.vertical_stiffness), rel=0.1)


def test_the_film_goes_along_the_road_and_turns_its_wheels(job: Job, result: Result) -> None:
    film, driven = film_of(result), next(s for s in loop.sections(job) if s.name == NAME)
    assert len(film.along) == len(film.level) == len(film.parts[0].up)
    gone, time = film.along[-1] - film.along[0], film.step * (len(film.along) - 1)
    assert gone / time == pytest.approx(driven.mean_speed, rel=1e-3)
    assert gone == pytest.approx(driven.length, rel=0.01)
    wheel = next(p for p in film.parts if p.label == "front left wheel")
    rolled = (wheel.turn[0] - wheel.turn[-1]) * float(job.programme.vehicle.tyre.free_radius)
    assert rolled == pytest.approx(gone, rel=1e-3), "a wheel that goes to the right turns clockwise"


def test_the_film_leaves_as_picture_and_figures(result: Result) -> None:
    film = film_of(result)
    assert "<svg" in picture_svg(film)
    assert picture_csv(film).splitlines()[0].startswith("time [s],along the road [m],view,part,across [mm]")
    assert len(picture_csv(film).splitlines()) == 1 + len(film.along) * len(film.parts)
    assert film_json(film)["views"][0]["title"] == "from the side, left wheels"
    assert still(film).title.endswith(f"{film.still * film.step:.2f} s")


def test_what_is_not_there_is_refused(job: Job) -> None:
    with pytest.raises(InputError, match="no section 'moon'; it has village humps"):
        section.study(job, section="moon")
    with pytest.raises(InputError, match="no channel 'noise'"):
        section.study(job, channel="noise")
