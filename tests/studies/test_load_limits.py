"""Masses against limits: sums that must hold, and what is said when one is exceeded."""

from __future__ import annotations

import pytest
from vary_programme import Vary

from tussock.studies import heights, parts
from tussock.studies.job import Job
from tussock.studies.load_limits import load_notices, load_table, loads


def test_axles_carry_the_whole_vehicle(job: Job) -> None:
    found = loads(job, "B3")
    for name in job.programme.fitouts:
        own = {load.what: load for load in found if load.fitout == name}
        whole = own["gross mass"].mass
        assert whole == pytest.approx(parts.whole_mass(job, name).mass)
        assert own["front axle"].mass + own["rear axle"].mass == pytest.approx(whole, rel=1e-6)
        for end in ("front", "rear"):
            assert own[f"{end} tyre"].mass >= 0.5 * own[f"{end} axle"].mass
    assert [load.mass for load in found if load.what == "roof"] == [38.0]


def test_the_lever_rule_gives_the_axle_loads(job: Job) -> None:
    """Statics: a mass at x shares between the axles as the distances to them."""
    whole = parts.whole_mass(job, "rescue")
    rear_x = parts.wheel_centre(job, "rear")[0]
    front = next(load for load in loads(job, "B3") if load.fitout == "rescue" and load.what == "front axle")
    assert front.mass == pytest.approx(whole.mass * (whole.centre[0] - rear_x) / -rear_x, rel=3e-3)


@pytest.mark.parametrize(
    ("field", "value", "what"),
    [
        ("vehicle.axle_limits.rear", "1100 kg", "rear axle"),
        ("vehicle.tyre.load_limit", "520 kg", "rear tyre"),
        ("vehicle.roof_limit", "30 kg", "roof"),
    ],
)
def test_what_is_too_heavy_fails_heights_and_is_named(field: str, value: str, what: str, vary: Vary) -> None:
    job = vary({field: value})
    found = loads(job, "B3")
    over = [load for load in found if load.over]
    assert what in {load.what for load in over}
    assert load_table(job, found).strong
    text = [n.text for n in load_notices(job, found)]
    assert any(f"the {what} carries" in t and f"{value} is allowed" in t for t in text)
    result = heights.study(job)
    assert not result.passes
    assert any("springs do not raise a legal limit" in n.remedy for n in result.notices)
