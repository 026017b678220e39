"""Restrictions against handbook formulas, tables and worked examples.

Sources
1. M. G. Rabie, Fluid Power Engineering, McGraw-Hill 2009: eqs 2.36, 2.37 and 2.39 (orifice; typical C_d 0.60 to 0.65,
   C_v 0.97 to 0.99, p. 27), 2.40 and 2.41 (short tube, after Merritt 1967), 2.19 (annular gap), 2.24 (film between
   nozzle and plate).
2. Short-tube table, recomputed outside the project from 2.40 and 2.41 to four figures.
3. Encyclopaedia Britannica, 11th ed., Hydraulics, sec. 17: C_c 0.64, C_v 0.97, product 0.62.
4. An open textbook companion, ex. 5.7: 1000 US gallons a minute, specific gravity 0.85, 2 in orifice, 120 psi -> 0.70
   (0.705 with 850 kg/m3, recomputed).
5. Band leak, recomputed: D 40 mm, gap 0.03 mm, length 10 mm, 0.012 Pa s: 0.1414 L/min per MPa, 0.0565 at 0.5 m/s.
6. A public lexicon of hydraulics: fully eccentric gap 2.5 times; 1 + 1.5 e^2 (Merritt 1967, from memory).
7. Blasius' friction factor (from memory): smooth pipe, Re 10^5, 0.0178.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from tussock.mechanics.dampers.hydraulics import BandGap, DiscValve, Hose, OilState, Orifice
from tussock.mechanics.dampers.hydraulics.restrictions import (
    CONTRACTION,
    discharge_short_tube,
    discharge_with_approach,
)

pytestmark = pytest.mark.literature

OIL = OilState(temperature=313.15, density=850.0, viscosity=0.012)


def test_short_tube_table() -> None:
    """Source 2, as printed (branches not joined)."""
    table = {
        1: 0.1228, 5: 0.2575, 10: 0.3394, 20: 0.4272, 100: 0.5899, 200: 0.6361, 500: 0.6877, 1000: 0.7190, 3000: 0.7557,
        10_000: 0.7815, 49.999999: 0.5300, 50: 0.5389,
    }  # fmt: skip
    found = discharge_short_tube(np.array(list(table), dtype=float), joined=False)
    np.testing.assert_allclose(found, list(table.values()), atol=5.1e-5)


def test_joined_short_tube_stays_between_the_branches() -> None:
    """Source 1: the join never leaves the two printed branches and is exact outside 45 to 55."""
    s = np.geomspace(0.1, 1e5, 2000)
    joined, plain = discharge_short_tube(s), discharge_short_tube(s, joined=False)
    outside = (s <= 45.0) | (s >= 55.0)
    np.testing.assert_allclose(joined[outside], plain[outside], rtol=1e-12)
    np.testing.assert_allclose(joined, plain, rtol=0.009)
    assert np.all(np.diff(joined) > 0.0)


def test_discharge_coefficients() -> None:
    """Sources 1 and 3: 0.611 = pi/(pi + 2); 0.64 x 0.97 = 0.62; with a wide pipe C_d = C_v C_c."""
    assert pytest.approx(0.611, abs=5e-4) == CONTRACTION
    assert discharge_with_approach(contraction=0.64, velocity=0.97, area_ratio=0.0) == pytest.approx(0.62, abs=5e-3)
    assert 0.60 <= discharge_with_approach(contraction=CONTRACTION, velocity=0.985, area_ratio=0.0) <= 0.65


def test_orifice_worked_example() -> None:
    """Source 4: the coefficient follows from flow and drop; printed 0.70, in SI 0.705."""
    flow = 1000.0 * 3.785411784e-3 / 60.0
    drop = 120.0 * 6894.757
    hole = Orifice.round(diameter=2 * 0.0254, discharge=1.0)
    found = flow / float(hole.flow(drop, OIL))
    assert found == pytest.approx(0.705, abs=5e-4)
    assert found == pytest.approx(0.70, abs=1e-2)


def test_leak_past_the_band() -> None:
    """Sources 5 and 6."""
    band = BandGap(diameter=0.040, gap=0.03e-3, length=0.010)
    assert float(band.flow(1e6, OIL)) * 6e4 == pytest.approx(0.1414, abs=5e-5)
    assert band.drag_flow(0.5) * 6e4 == pytest.approx(0.0565, abs=5e-5)
    touching = BandGap(diameter=0.040, gap=0.03e-3, length=0.010, eccentricity=1.0)
    assert float(touching.flow(1e6, OIL) / band.flow(1e6, OIL)) == pytest.approx(2.5, rel=1e-12)


def test_eccentric_gap_by_integration() -> None:
    """Source 6: 1 + 1.5 e^2 is the mean of (1 + e cos)^3 round the gap (independent quadrature)."""
    for e in (0.0, 0.3, 0.7, 1.0):
        mean = quad(lambda a, e=e: (1.0 + e * math.cos(a)) ** 3, 0.0, 2.0 * math.pi)[0] / (2.0 * math.pi)
        bands = [BandGap(diameter=0.035, gap=0.02e-3, length=0.008, eccentricity=x) for x in (e, 0.0)]
        assert float(bands[0].flow(1e6, OIL) / bands[1].flow(1e6, OIL)) == pytest.approx(mean, rel=1e-9)


def test_film_under_a_barely_lifted_disc() -> None:
    """Source 1, eq. 2.24: Q = pi (d1 + d2) h^3 dp / (12 mu (d2 - d1)) when lift is so small that viscosity rules."""
    land, seat, lift = 0.001, 0.022, 2e-6
    valve = DiscValve(
        port=Orifice(area=1e-3),
        seat_diameter=seat,
        pressure=np.array([0.0, 1e3]),
        lift=np.array([lift, lift]),
        land=land,
    )
    d1, d2 = seat - 2.0 * land, seat
    flow = math.pi * (d1 + d2) * lift**3 * 1e3 / (12.0 * OIL.viscosity * (d2 - d1))
    assert float(valve.at(np.array([1e3]), OIL).flow[0]) == pytest.approx(flow, rel=1e-3)


def test_hose_friction() -> None:
    """Laminar: Hagen-Poiseuille 128 mu L Q/(pi d^4). Turbulent: Source 7."""
    hose = Hose(diameter=0.008, length=0.5, end_losses=0.0)
    slow = 1e-6
    poiseuille = 128.0 * OIL.viscosity * 0.5 * slow / (math.pi * 0.008**4)
    assert float(hose.drop(slow, OIL)) == pytest.approx(poiseuille, rel=1e-12)
    speed = 1e5 * OIL.viscosity / (OIL.density * 0.008)
    drop = float(hose.drop(speed * math.pi * 0.008**2 / 4.0, OIL))
    factor = drop * 0.008 / (0.5 * 0.5 * OIL.density * speed**2)
    assert factor == pytest.approx(0.0178, abs=5e-5)
