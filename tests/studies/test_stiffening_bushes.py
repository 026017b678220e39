"""Bushes that stiffen: from the programme's words to the linkage, and what they do to wind-up."""

from __future__ import annotations

import math

import numpy as np
import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.mechanics.linkage import Axle
from tussock.studies import link_loads, model
from tussock.studies.job import Setup

ARM = "vehicle.axles.front.bushes.arm_axle_rear"
RATES = {"radial": "2.4 kN/mm", "axial": "1.1 kN/mm", "conical": "30 N m/deg", "torsional": "2.6 N m/deg"}


def test_the_rate_measured_further_out_is_the_rate_there(vary: Vary) -> None:
    """Derived: load k x + h (x - gap)^2, so 2.4 kN/mm up to 1 mm and 9 kN/mm at 3 mm make h = 1.65 kN/mm^2."""
    job = vary({ARM: {**RATES, "radial_stiffens": {"after": "1 mm", "at": "3 mm", "rate": "9 kN/mm"}}})
    axle = model.axle(job, "front", stock=True)
    assert isinstance(axle, Axle)
    joint = next(e for e in axle.linkage.elements if e.name == "arm_axle_rear_left")
    row = joint.rows[0]  # type: ignore[union-attr]
    assert row.gap == pytest.approx(1e-3)
    assert row.rate + 2.0 * row.progressive * (3e-3 - row.gap) == pytest.approx(9e6)


def test_bushes_that_stiffen_wind_up_less(vary: Vary) -> None:
    """Common practice, no source. In braking the arms' rear bushes carry most: they move some millimetres."""
    setup = Setup("rescue", "B3")
    stiff = {**RATES, "radial_stiffens": {"after": "0.5 mm", "at": "2 mm", "rate": "20 kN/mm"}}
    wound = []
    for job in (vary({}), vary({ARM: stiff})):
        braking = next(a for a in link_loads.cases(job, setup, "front").answers if a.case.name == "braking")
        wound.append(math.degrees(abs(braking.wind_up)))
    assert wound[1] < 0.9 * wound[0]
    assert np.all(np.isfinite(wound))


@pytest.mark.parametrize(
    ("law", "said"),
    [
        ({"after": "3 mm", "at": "2 mm", "rate": "9 kN/mm"}, r"radial_stiffens\.at: it must lie beyond 3 mm"),
        ({"after": "1 mm", "at": "3 mm", "rate": "2 kN/mm"}, r"radial_stiffens\.rate: .* more than its first rate"),
    ],
)
def test_a_law_that_cannot_be_is_refused(law: dict[str, str], said: str, vary: Vary) -> None:
    with pytest.raises(InputError, match=said):
        vary({ARM: {**RATES, "radial_stiffens": law}})
