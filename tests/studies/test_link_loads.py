"""Load cases of the invented Tarn: equilibrium by hand, and what follows from the shares of the forces."""

from __future__ import annotations

import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.mechanics.linkage.load_cases import CaseTable
from tussock.mechanics.mass import GRAVITY
from tussock.studies import link_loads, parts
from tussock.studies.job import ENDS, Job, Setup

RESCUE = Setup("rescue", "B3")


@pytest.fixture(scope="module")
def found(job: Job) -> dict[str, CaseTable]:
    return {end: link_loads.cases(job, RESCUE, end) for end in ENDS}


def load(table: CaseTable, joint: str, case: str) -> float:
    names = [a.case.name for a in table.answers]
    return float(table.resultants[table.joints.index(joint), names.index(case)])


@pytest.mark.parametrize("end", ENDS)
def test_the_track_rod_carries_the_side_force(end: str, job: Job, found: dict[str, CaseTable]) -> None:
    """Statics: links along the vehicle carry next to nothing across it; the rod lies within 8 deg of level."""
    side = 0.5 * link_loads.end_of_vehicle(job, RESCUE, end).load
    for case in ("left_turn", "right_turn"):
        assert load(found[end], "track_rod", case) == pytest.approx(side, rel=0.06)


def test_braking_pulls_the_rear_links_as_the_moments_say(job: Job, found: dict[str, CaseTable]) -> None:
    """Statics in side view: upper and lower links share brake force and torque by their heights over the ground."""
    at = link_loads.end_of_vehicle(job, RESCUE, "rear")
    force = 0.5 * 0.7 * at.vehicle_load * at.brake_share
    # moments about the lower link's axle end (302 mm) of the brake force on the ground, carried by the upper (498 mm)
    upper = force * 0.302 / (0.498 - 0.302)
    assert load(found["rear"], "upper_link_left", "braking") == pytest.approx(upper, rel=0.12)
    assert load(found["rear"], "lower_link_left", "braking") == pytest.approx(force + upper, rel=0.12)


def test_loads_move_between_the_ends_in_braking(job: Job, found: dict[str, CaseTable]) -> None:
    """Derived: m a h / L goes from the rear to the front."""
    for end, sign in (("front", 1.0), ("rear", -1.0)):
        at = link_loads.end_of_vehicle(job, RESCUE, end)
        braking = next(a for a in found[end].answers if a.case.name == "braking")
        moved = 0.7 * at.vehicle_load * at.gravity_height / at.wheelbase
        assert sum(f.up for f in braking.forces) == pytest.approx(at.load + sign * moved, rel=1e-9)
    whole = parts.whole_mass(job, "rescue").mass * GRAVITY
    assert at.vehicle_load == pytest.approx(whole, rel=1e-6)


def test_turns_left_and_right_are_mirror_images_but_for_the_track_rods(found: dict[str, CaseTable]) -> None:
    for table in found.values():
        left, right = (next(a for a in table.answers if a.case.name == n) for n in ("left_turn", "right_turn"))
        assert float(np.mean(left.steer)) == pytest.approx(-float(np.mean(right.steer)), abs=math.radians(0.02))


def test_study_names_the_hardest_worked_joint_and_softer_bushes_give_more(job: Job, vary: Vary) -> None:
    result = link_loads.study(job)
    assert result.passes
    assert result.inputs["fit-out"] == "rescue"
    assert "arm axle rear" in result.answer
    rows = result.table("front_loads").rows
    assert max(float(c) for r in rows for c in r[1:-1] if isinstance(c, float)) == pytest.approx(
        float(result.values["front_largest_load_N"])
    )
    soft = vary({"vehicle.axles.rear.bushes.upper_link.stiffness": "2.0 kN/mm"})
    was, now = (abs(float(link_loads.study(j).values["rear_wind_up_braking_rad"])) for j in (job, soft))
    assert now > 1.1 * was


def test_what_has_no_bush_rates_is_said_and_gives_nothing(dunnock: Job) -> None:
    """The invented Dunnock's arms are entered without bushes: no compliance may be read off them."""
    result = link_loads.study(dunnock)
    assert [n.text for n in result.notices] == [
        "The front suspension has no bush rates: its links are taken as rigid, and nothing gives"
    ]
    assert "winds up the rear by" in result.answer
    assert "the front by" not in result.answer
