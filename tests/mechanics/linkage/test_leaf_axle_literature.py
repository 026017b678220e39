"""Leaf-sprung axles against published statements.

Sources
1. Roll centre of an axle on leaf springs: about the height of the spring eyes, lower as the camber reverses (lecture
   slides on suspension and Advanced Vehicle Technology, fig. 10.28; both seen; no figures printed).
2. SAE Spring Committee, Manual on Design and Application of Leaf Springs (AE-11): links of three quarters of the
   cantilever stand for a leaf spring of uniform strength (from memory).
3. Rate and wind-up of unsymmetric springs from their cantilevers (derived; `springs/test_leaf_literature.py`).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from linkage_wheels import LEAF, leaf_axle, leaf_pair

from tussock.mechanics.linkage import UNIFORM_STRENGTH, BushRates, graduated_shape, sweep

pytestmark = pytest.mark.literature


def test_roll_centre_lies_about_the_eyes_and_falls_as_camber_reverses() -> None:
    """Source 1: within 20 mm of the line of the eyes over +-100 mm of heave, and falling.

    It holds where eyes turn easily and the shackle is stiff sideways; a soft shackle or stiff eyes move it towards the
    seats, which the statement does not speak of.
    """
    ball = BushRates(radial=1e8, axial=1e8, conical=1.0, torsional=0.01)
    bushes = {"fixed_eye": ball, "shackle_eye": ball, "shackle_pivot": replace(ball, conical=1e6)}
    heave = np.linspace(-0.1, 0.1, 5)
    heights = sweep(leaf_axle(bushes=bushes), heave, np.zeros(1)).roll_centre_height[:, 0]
    front, rear, wheel = (np.array(LEAF[name]) for name in ("fixed_eye", "shackle_eye", "wheel_centre"))
    share = (wheel[0] - front[0]) / (rear[0] - front[0])
    eyes = front[2] + share * (rear[2] - front[2]) - heave
    assert heights == pytest.approx(eyes, abs=0.020)
    assert np.all(np.diff(heights) < 0.0)


def test_a_shackle_soft_sideways_lowers_the_roll_centre_in_droop() -> None:
    """What source 1 leaves out: the shackle's side stiffness is its bushes' cone rate over its length squared."""
    eye = BushRates(radial=8e6, axial=1.2e6, conical=800.0, torsional=46.0)
    heights = [
        sweep(
            leaf_axle(bushes={"fixed_eye": eye, "shackle_eye": eye, "shackle_pivot": replace(eye, conical=cone)}),
            np.array([-0.1]),
            np.zeros(1),
        ).roll_centre_height[0, 0]
        for cone in (800.0, 6000.0, 1e5)
    ]
    assert heights[0] < heights[1] < heights[2]


def test_links_of_three_quarters() -> None:
    """Source 2."""
    assert UNIFORM_STRENGTH.link == 0.75
    assert graduated_shape(0.0).link == pytest.approx(0.75, abs=1e-6)


@pytest.mark.parametrize("load", [2000.0, 3200.0, 4500.0])
def test_stock_load_is_carried_by_the_eyes_by_their_levers(load: float) -> None:
    """Source 3: the vertical parts at the eyes go as the other half's length, where the shackle stands upright."""
    level = {"shackle_pivot": np.array([-3.78, 0.56, 0.600]), "fixed_eye": np.array([-2.48, 0.56, 0.475])}
    table = {name: np.array(point) for name, point in LEAF.items()} | level
    axle = leaf_axle(table, leaf_springs=leaf_pair(load=load))
    s = sweep(axle, np.zeros(1), np.zeros(1))
    assert s.heave_force[0, 0] == pytest.approx(2.0 * load, rel=0.01)
    fixed, shackle = (np.linalg.norm(s.joint_loads[f"{name}_left"][0, 0, :3]) for name in ("fixed_eye", "shackle_eye"))
    assert fixed == pytest.approx(load * 0.68 / 1.30, rel=0.012)
    assert shackle == pytest.approx(load * 0.62 / 1.30, rel=0.012)
