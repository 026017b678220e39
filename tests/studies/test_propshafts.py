"""Propeller shafts of the invented Tarn after its lift, against angles in side view, and the parts that mend them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.mechanics.linkage import Axle
from tussock.studies import geometry, model, propshafts
from tussock.studies.job import KERB, STOCK, Job, Setup
from tussock.studies.propshafts import ShaftAnswer, shaft_notices, shaft_table

BARE = Setup("bare", "B3")


def rear(job: Job) -> ShaftAnswer:
    axles = {s: model.axle(job, "rear", stock=s) for s in (True, False)}
    assert all(isinstance(a, Axle) for a in axles.values())
    kerb = model.posture(job, Setup(fitout=KERB, build=STOCK))["rear"].heave
    ride = model.posture(job, BARE)["rear"].heave
    found = propshafts.answer(
        job,
        "rear",
        stock=(axles[True], kerb),  # type: ignore[arg-type]
        lifted=(axles[False], ride),  # type: ignore[arg-type]
        mended=(axles[False], ride),  # type: ignore[arg-type]
        window=(0.075, 0.075),
    )
    assert found is not None
    return found


def test_angles_at_kerb_are_those_of_the_side_view(job: Job) -> None:
    """The rear shaft runs straight back: its slope less that of output shaft and pinion, to a tenth of a degree."""
    record = job.programme.vehicle.axles["rear"].propshaft
    assert record is not None
    points = [np.array(p.si) for p in (record.gearbox, record.gearbox_shaft, record.pinion, record.pinion_shaft)]

    def slope(a: np.ndarray, b: np.ndarray) -> float:
        return math.atan2(float(b[2] - a[2]), float(b[0] - a[0]))

    shaft = slope(points[2], points[0])
    stock = rear(job).states["stock"]
    assert stock.gearbox == pytest.approx(shaft - slope(points[0], points[1]), abs=math.radians(0.1))
    assert stock.pinion == pytest.approx(shaft - slope(points[2], points[3]), abs=math.radians(0.1))


def test_lifting_opens_both_joints_by_the_lift_over_the_shafts_length(job: Job) -> None:
    """Derived: the gearbox rises with the body; on parallel links the pinion keeps its slope."""
    found = rear(job)
    lift = model.posture(job, BARE)["rear"].heave - model.posture(job, Setup(fitout=KERB, build=STOCK))["rear"].heave
    opened = math.atan2(0.108 - lift, 0.96) - math.atan2(0.108, 0.96)
    was, now = found.states["stock"], found.states["lifted"]
    assert now.gearbox - was.gearbox == pytest.approx(opened, abs=math.radians(0.25))
    assert now.highest_speed < was.highest_speed
    assert found.wedge is None  # the two joints stay nearly equal


def test_speed_goes_with_the_inverse_of_the_angle(job: Job) -> None:
    """Peak acceleration b^2 w^2 at 1000 rad/s^2 (from memory); the shaft's own joint at the gearbox governs here."""
    now = rear(job).states["lifted"]
    radius = float(job.programme.vehicle.tyre.free_radius)
    assert now.highest_speed == pytest.approx(math.sqrt(1000.0) / now.gearbox / 4.1 * radius, rel=0.02)


def test_a_pinion_left_crooked_is_turned_back_by_a_wedge(vary: Vary) -> None:
    """A pinion 4 deg nose down of parallel at ride height wants a wedge of about that, nose up."""
    low = 397.0 - 100.0 * math.tan(math.radians(4.0))
    found = rear(vary({"vehicle.axles.rear.propshaft.pinion_shaft": f"-2340, 118, {low:.1f} mm"}))
    assert found.wedge is not None
    assert math.degrees(found.wedge.size) == pytest.approx(4.0, abs=0.6)
    assert "nose up" in found.wedge.words
    assert list(found.states)[-1] == "with the wedge"
    assert found.last.equivalent < 0.4 * found.states["with the parts"].equivalent


def test_a_short_spline_wants_a_spacer_and_says_when_no_spacer_is_enough(vary: Vary) -> None:
    shaft = "vehicle.axles.rear.propshaft"
    found = rear(vary({f"{shaft}.slip_out": "20 mm", f"{shaft}.slip_in": "1 mm"}))
    last = found.last
    assert last.slip_least < -0.001
    # shorter by half of what the spline has too much on the other side
    assert found.spacer == pytest.approx(0.5 * (last.slip_most + last.slip_least) - 0.5 * (0.020 - 0.001), abs=1e-9)
    job = vary({f"{shaft}.slip_out": "0.5 mm", f"{shaft}.slip_in": "0.5 mm"})
    assert any("its spline has 1 mm" in n.text for n in shaft_notices(job, [rear(job)]))


def test_geometry_shows_what_turning_caster_back_costs_the_front_shaft(job: Job) -> None:
    result = geometry.study(job)
    table = result.table("propshafts")
    assert [r[:2] for r in table.rows] == [
        (e, s) for e in ("front", "rear") for s in ("stock", "lifted", "with the parts")
    ]
    front = {str(r[1]): r for r in table.rows if r[0] == "front"}
    turned = float(front["with the parts"][3] or 0.0) - float(front["lifted"][3] or 0.0)
    won = float(result.values["front_caster_mended_rad"]) - float(result.values["front_caster_lifted_rad"])
    assert turned > 0.9 * won
    assert shaft_table([rear(job)]).strong == (2,)
