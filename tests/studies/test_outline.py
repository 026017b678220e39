"""The vehicle's outline against the tape measures of the record."""

from __future__ import annotations

import itertools

import pytest
from vary_programme import Vary

from tussock.studies import outline
from tussock.studies.job import Job
from tussock.studies.result import Shape

Point = tuple[float, float]


def _crossing(shape: Shape) -> list[tuple[int, int]]:
    """Edges of a closed outline that cross: sign of the turn about each other's ends (textbook orientation test)."""

    def turn(a: Point, b: Point, c: Point) -> float:
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    edges = list(zip(shape.points, (*shape.points[1:], shape.points[0]), strict=True))
    return [
        (i, j)
        for (i, (a, b)), (j, (c, d)) in itertools.combinations(enumerate(edges), 2)
        if turn(a, b, c) * turn(a, b, d) < -1e-12 and turn(c, d, a) * turn(c, d, b) < -1e-12
    ]


def test_a_wagon_is_drawn_by_its_measures(job: Job) -> None:
    body, windows = outline.body_side(job)
    xs, zs = zip(*body.points, strict=True)
    assert max(xs) == pytest.approx(0.770)
    assert min(xs) == pytest.approx(-2.700 - 0.830)
    assert max(zs) == pytest.approx(1.830)
    assert (0.770, 0.520) in body.points  # the bumpers' lower edges
    assert min(body.points) == pytest.approx((-3.530, 0.545))
    # the arch's top is the measured point of the limiter "tyre to arch", over the wheel centre
    assert max(z for x, z in body.points if abs(x) < 0.2 and z < 1.0) == pytest.approx(0.864)
    assert _crossing(body) == []
    assert _crossing(windows) == []
    assert max(z for _, z in windows.points) < 1.830


def test_a_pick_up_has_a_cab_and_a_bed(dunnock: Job) -> None:
    body, _ = outline.body_side(dunnock)
    roof = [x for x, z in body.points if z == pytest.approx(1.800)]
    assert -2.420 < min(roof)  # the roof ends before the cab's back
    assert max(z for x, z in body.points if x < -2.43) == pytest.approx(1.190)  # behind it nothing is above the bed
    assert _crossing(body) == []


def test_without_measures_it_is_a_drawn_wagon(vary: Vary) -> None:
    plain = vary({"vehicle.outline": None})
    assert not outline.measured(plain)
    body, _ = outline.body_side(plain)
    assert max(x for x, _ in body.points) == pytest.approx(0.80)
    assert _crossing(body) == []
