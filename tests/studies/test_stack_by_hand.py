"""A stack changed by hand: what is tried is what the saved programme then computes, and targets are where they say."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from tussock.errors import InputError
from tussock.record import Loaded, load
from tussock.record.discs import DiscRule
from tussock.record.edit import set_field
from tussock.studies import dampers
from tussock.studies import stack_by_hand as by_hand
from tussock.studies.job import Job
from tussock.studies.result import Band, Line


def place(job: Job, title: str = "piston, rebound", end: str = "front") -> by_hand.StackPlace:
    return next(p for p in by_hand.places(job, job.setup()) if (p.title, p.end) == (title, end))


def line(tried: by_hand.Tried, label: str) -> Line:
    return next(one for one in tried.chart.lines if one.label == label)


def at(curve: Line, speed: float) -> float:
    return float(np.interp(speed, curve.x, curve.y))


def thicker(job: Job, discs: tuple[str, ...], index: int) -> tuple[str, ...]:
    other = by_hand.neighbour(by_hand.sizes(job), discs[index], thickness=1)
    assert other is not None
    return (*discs[:index], other, *discs[index + 1 :])


def test_every_stack_of_the_build_is_found_with_its_discs(tarn: Loaded, job: Job) -> None:
    found = by_hand.places(job, job.setup())
    assert {(p.end, p.damper) for p in found} == {("front", "front_b"), ("rear", "rear_b")}
    assert {p.title for p in found} == {"piston, rebound", "piston, compression", "foot, compression"}
    for p in found:
        again = set_field(tarn, p.path, by_hand.as_field(p.discs))
        assert Job(again).programme.kit.dampers[p.damper] is not None
        both = [by_hand.places(j, j.setup()) for j in (job, Job(again))]
        assert both[0] == both[1]


def test_the_stack_as_saved_changes_nothing(job: Job) -> None:
    here = place(job)
    tried = by_hand.tried(job, job.setup(), here, here.discs)
    assert tried.change == ""
    assert {one.label for one in tried.chart.lines} == {"saved", "measured", ""}
    assert tried.ratio == pytest.approx(dampers.ratio_at(job, job.setup(), "front", 0.26), rel=1e-12)
    assert all(row[4] == 0.0 for row in tried.table.rows)


@pytest.mark.parametrize("title", ["piston, rebound", "piston, compression", "foot, compression"])
def test_what_is_tried_is_what_the_programme_computes_once_it_is_saved(tarn: Loaded, job: Job, title: str) -> None:
    here = place(job, title)
    discs = thicker(job, here.discs, 1)
    tried = by_hand.tried(job, job.setup(), here, discs)
    after = Job(set_field(tarn, here.path, by_hand.as_field(discs)))
    saved = by_hand.tried(after, after.setup(), place(after, title), place(after, title).discs)
    assert place(after, title).discs == discs
    # two lines of equal discs may be one: nothing but the order of sums differs
    np.testing.assert_allclose(line(tried, "tried").y, line(saved, "saved").y, rtol=1e-9, atol=1e-6)
    assert "swapped" in tried.change


def test_the_ratio_is_that_of_the_saved_programme_where_studies_take_the_valves(tarn: Loaded) -> None:
    loaded = set_field(tarn, "kit.dampers.front_b.forces_from", "valves")
    loaded = set_field(loaded, "kit.dampers.front_b.dyno_run.oil_temperature", "25 degC")
    loaded = set_field(loaded, "road_loop.oil_temperature", "25 degC")
    before = Job(loaded)
    here = place(before)
    discs = thicker(before, thicker(before, here.discs, 0), 1)
    tried = by_hand.tried(before, before.setup(), here, discs)
    after = Job(set_field(loaded, here.path, by_hand.as_field(discs)))
    assert tried.ratio == pytest.approx(dampers.ratio_at(after, after.setup(), "front", 0.26), rel=2e-3)
    assert tried.ratio > 1.05 * dampers.ratio_at(before, before.setup(), "front", 0.26)
    assert not any("as it was measured" in n.text for n in tried.notices)


def test_a_thicker_seat_disc_holds_rebound_and_leaves_compression(job: Job) -> None:
    here = place(job)
    tried = by_hand.tried(job, job.setup(), here, thicker(job, here.discs, 0))
    for speed in (0.26, 0.52, 1.05):
        assert at(line(tried, "tried"), -speed) < at(line(tried, "saved"), -speed) - 10.0
        assert at(line(tried, "tried"), speed) == pytest.approx(at(line(tried, "saved"), speed), abs=1e-6)


def test_a_force_at_the_edge_of_its_target_damps_as_the_target_says(job: Job) -> None:
    """The ratio is c / (2 sqrt(k m)) times the ratio squared, so a change of force moves it in proportion."""
    here, setup = place(job), job.setup()
    tried = by_hand.tried(job, setup, here, thicker(job, here.discs, 0))
    window = job.programme.targets.damping_ratio
    mean = dampers.parts.fitted(job, setup, "front").curve.mean_damping(0.26)
    for_newton = dampers.ratio_at(job, setup, "front", 0.26) / (2.0 * 0.26 * mean)
    now = {side: at(line(tried, "tried"), side * 0.26) for side in (-1.0, 1.0)}
    bands: list[Band] = [b for b in tried.chart.bands if b.role == "target"]
    assert len(bands) == 2
    for band in bands:
        side = 1.0 if band.x[0] > 0.0 else -1.0
        assert np.mean(band.x) == pytest.approx(side * 0.26)
        reached = sorted(tried.ratio + for_newton * side * (edge - now[side]) for edge in (band.low[0], band.high[0]))
        assert reached == pytest.approx([float(window.least), float(window.most)], rel=1e-9)


def test_the_next_disc_of_the_stock_is_the_nearest_one(job: Job) -> None:
    every = by_hand.sizes(job)
    assert len(set(every)) == len(every)
    for disc, (by, sign) in itertools.product(every, itertools.product(("thickness", "diameter"), (-1, 1))):
        here = DiscRule().read(disc)
        other = by_hand.neighbour(every, disc, **{by: sign})
        lines = [DiscRule().read(one) for one in every]
        kept = "diameter" if by == "thickness" else "thickness"
        farther = [
            sign * (getattr(one, by) - getattr(here, by))
            for one in lines
            if getattr(one, kept) == getattr(here, kept) and sign * (getattr(one, by) - getattr(here, by)) > 1e-9
        ]
        if other is None:
            assert farther == []
        else:
            step = sign * (getattr(DiscRule().read(other), by) - getattr(here, by))
            assert step == pytest.approx(min(farther))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda discs: (), "the stack is empty"),
        (lambda discs: tuple(reversed(discs)), "does not cover its seat"),
    ],
)
def test_what_cannot_be_built_is_said_and_yet_drawn(job: Job, change: object, said: str) -> None:
    here = place(job)
    discs = change(here.discs)  # type: ignore[operator]
    with pytest.raises(InputError, match=f"front_b: .*{said}"):
        by_hand.tried(job, job.setup(), here, discs)
    shapes = [s for s in by_hand.drawn(job, job.setup(), here, discs).shapes if s.label[:1].isdecimal()]
    assert len(shapes) == len(discs)


def test_discs_are_drawn_to_scale_one_on_the_other(job: Job) -> None:
    here = place(job)
    height = 0.0
    drawing = by_hand.drawn(job, job.setup(), here, here.discs)
    for number, disc in enumerate(here.discs, 1):
        wanted = DiscRule().read(disc)
        shape = next(s for s in drawing.shapes if s.label.startswith(f"{number}: "))
        xs, ys = zip(*shape.points, strict=True)
        assert max(xs) == pytest.approx(0.5 * wanted.diameter)
        assert (min(ys), max(ys)) == pytest.approx((height, height + wanted.thickness))
        height += wanted.thickness


def test_discs_that_are_short_are_said(job: Job) -> None:
    here = place(job)
    many = (*(["0.30 x 28 mm"] * 12), *here.discs)
    said = " ".join(n.text for n in by_hand.tried(job, job.setup(), here, many).notices)
    assert "24 discs of 0.30 x 28 mm" in said
    assert "20 are in stock" in said


def test_a_vehicle_whose_valves_nobody_knows_has_no_stack_in_hand() -> None:
    from importlib.resources import as_file, files

    with as_file(files("tussock").joinpath("data/dunnock")) as folder:
        other = Job(load(folder / "programme.yaml"))
    assert by_hand.places(other, other.setup()) == ()


def test_forces_of_the_table_are_those_of_the_curve(job: Job) -> None:
    here = place(job)
    tried = by_hand.tried(job, job.setup(), here, thicker(job, here.discs, 2))
    for direction, speed, new, old, more, share, _ in tried.table.rows:
        sign = 1.0 if direction == "compression" else -1.0
        assert new == pytest.approx(abs(at(line(tried, "tried"), sign * float(str(speed)))), rel=1e-9)
        assert more == pytest.approx(float(str(new)) - float(str(old)))
        assert share == pytest.approx(float(str(new)) / float(str(old)) - 1.0)
