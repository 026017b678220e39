"""Capability indices against printed examples.

Sources: [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6 (worked example, seen quoted in a public text);
[2] user's guide of a general statistics program (SAS/QC 9.2, CAPABILITY procedure, example 5.3, telephone amplifiers),
which prints data, limits and a 90 % interval of Cpk, 0.328 to 0.496.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tussock.errors import DomainError
from tussock.mechanics.dampers.capability import capability

pytestmark = pytest.mark.literature

AMPLIFIERS = [float(x) for x in """
4.54 4.87 4.66 4.90 4.68 5.22 4.43 5.14 3.07 4.22 5.09 3.41 5.75 5.16 3.96 5.37 5.70 4.11 4.83 4.51 4.57 4.16 5.73 3.64
5.48 4.95 4.57 4.46 4.75 5.38 5.19 4.35 4.98 4.87 3.53 4.46 4.57 4.69 5.27 4.67 5.03 4.50 5.35 4.55 4.05 6.63 5.32 5.24
5.73 5.08 5.07 5.42 5.05 5.70 4.79 4.34 5.06 4.64 4.82 3.24 4.79 4.46 3.84 5.05 5.46 4.64 6.13 4.31 4.81 4.98 4.95 5.57
4.11 4.15 5.95
""".split()]  # fmt: skip


def test_worked_example_of_the_handbook() -> None:
    # [1]: limits 8 and 20, mean 16, standard deviation 2: Cp 1.0, Cpk 0.6667
    x = np.array([-1.0, 1.0] * 50)
    sample = 16.0 + 2.0 * x / np.std(x, ddof=1)
    found = capability(sample, least=8.0, most=20.0)
    assert found.cp == pytest.approx(1.0, abs=5e-5)
    assert found.cpk == pytest.approx(0.6667, abs=5e-5)


def test_printed_interval_of_amplifiers() -> None:
    # [2] prints three digits; limits 4 and 6 decibels
    found = capability(AMPLIFIERS, least=4.0, most=6.0, confidence=0.90)
    assert found.cpk_interval == pytest.approx((0.328, 0.496), abs=6e-4)


def test_interval_of_cp_covers_as_it_says() -> None:
    rng = np.random.default_rng(7)
    inside = 0
    for _ in range(1000):
        low, high = capability(rng.normal(0.0, 1.0, 12), least=-3.0, most=3.0, confidence=0.9).cp_interval
        inside += low <= 1.0 <= high
    # exact for a normal process: 900 of 1000, binomial scatter 9.5
    assert abs(inside - 900) < 4 * math.sqrt(1000 * 0.9 * 0.1)


def test_share_outside_is_the_normal_tail() -> None:
    x = np.array([-1.0, 1.0] * 50)
    found = capability(x / np.std(x, ddof=1), least=-3.0, most=3.0)
    # +-3 sigma of a normal process leave 2700 parts in a million outside (any table of the normal distribution)
    assert found.outside == pytest.approx(0.0027, abs=5e-6)


@pytest.mark.parametrize(
    ("values", "least", "most", "words"),
    [
        ([1.0], 0.0, 2.0, "two measured parts"),
        ([1.0, 1.0], 0.0, 2.0, "does not scatter"),
        ([1.0, 1.1], 2.0, 0.0, "upper one must be the larger"),
        ([1.0, math.nan], 0.0, 2.0, "all of them numbers"),
    ],
)
def test_what_has_no_capability_is_refused(values: list[float], least: float, most: float, words: str) -> None:
    with pytest.raises(DomainError, match=words):
        capability(values, least=least, most=most)
