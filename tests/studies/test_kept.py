"""What one version takes from another is what it would have built itself: every edit of an axle is seen."""

from __future__ import annotations

import numpy as np
import pytest

from tussock.record import set_field
from tussock.record.load import Loaded
from tussock.studies import geometry, heights, model, travel
from tussock.studies.job import Job, job_of
from tussock.studies.kept import Kept


@pytest.mark.parametrize(
    ("field", "typed", "moves"),
    [
        ("vehicle.axles.front.hardpoints.track_rod_axle", "118, -458, 357 mm", True),
        ("vehicle.axles.front.bushes.arm_chassis.radial", "1.9 kN/mm", True),
        ("vehicle.axles.front.hardpoints.spring_chassis", "2, 458, 727 mm", True),
        ("vehicle.corners.front_left", "455.5 kg", False),
        ("vehicle.axles.front.spring.rate", "24 N/mm", False),
    ],
)
def test_an_edit_is_seen_and_what_it_leaves_is_taken_over(tarn: Loaded, field: str, typed: str, moves: bool) -> None:
    kept = Kept()
    first = job_of(tarn, kept)
    before = model.motion_map(first, "front", first.setup())
    edited = set_field(tarn, field, typed)
    shared, alone = job_of(edited, kept), Job(edited)
    taken, own = (model.motion_map(j, "front", j.setup()) for j in (shared, alone))
    for name in ("wheel_x", "wheel_y", "spring", "damper", "energy", "pitch", "bar"):
        assert np.array_equal(getattr(taken, name), getattr(own, name)), name
    assert (taken is before) is not moves
    a, b = (model.posture(j, j.setup())["front"] for j in (shared, alone))
    assert a == b


def test_answers_beside_another_version_are_those_of_the_version_alone(tarn: Loaded) -> None:
    """Heights, travel and geometry of an edited version, to the last figure, whatever an earlier one left."""
    kept = Kept()
    first = job_of(tarn, kept)
    edited = set_field(tarn, "kit.springs.front_standard.rate", "24.3 N/mm")
    shared, alone = job_of(edited, kept), Job(edited)
    for study in (heights.study, travel.study, geometry.study):
        before = study(first)
        assert study(shared) == study(alone) != before


def test_a_figure_is_kept_with_what_it_belongs_to() -> None:
    kept = Kept()
    axle = kept.once("axle", lambda: object())
    assert kept.number_of(axle, ("caster",), lambda: 1.0) == 1.0
    assert kept.number_of(axle, ("caster",), lambda: 2.0) == 1.0
    assert kept.number_of(axle, ("camber",), lambda: 2.0) == 2.0
    assert kept.number_of(object(), ("caster",), lambda: 3.0) == 3.0


def test_the_oldest_goes_first_and_an_error_is_not_kept() -> None:
    kept = Kept(most=2)
    things = [kept.once(i, lambda: [0]) for i in (1, 2)]
    assert kept.once(1, lambda: [1]) is things[0]
    kept.once(3, lambda: [3])
    assert kept.once(1, lambda: [1]) is things[0]
    assert kept.once(2, lambda: [2]) == [2], "2 was not asked for longest"
    with pytest.raises(ZeroDivisionError):
        kept.once(9, lambda: 1 / 0)
    assert kept.once(9, lambda: 9) == 9
    made = kept.once("a", lambda: [5])
    assert kept.of(made, ("twice",), lambda: [10]) is kept.of(made, ("twice",), lambda: [11])
    assert kept.of([7], ("twice",), lambda: 14) == 14
