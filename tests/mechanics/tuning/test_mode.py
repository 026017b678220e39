"""Where a posterior is highest: found where Newton steps creep too, and a search that is cut short says so."""

from __future__ import annotations

import numpy as np
import pytest

from tussock.errors import SolverError
from tussock.mechanics.tuning.mode import find_mode


class Valley:
    """Minus Rosenbrock's valley [Rosenbrock 1960], a Hessian far too stiff along it, so that Newton steps creep."""

    def posterior(self, theta: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
        """Return value, gradient and curvature; highest, 0, at (1, 1)."""
        x, y = theta
        value = -((1.0 - x) ** 2) - 100.0 * (y - x * x) ** 2
        gradient = np.array([2.0 * (1.0 - x) + 400.0 * x * (y - x * x), -200.0 * (y - x * x)])
        return value, gradient, np.diag([5000.0, 5000.0])


def test_a_creeping_search_is_finished_by_another() -> None:
    found, factor = find_mode(Valley(), np.array([-1.2, 1.0]), left=1e-10)
    assert found == pytest.approx([1.0, 1.0], abs=1e-3)
    assert factor @ factor.T == pytest.approx(np.diag([5000.0, 5000.0]))


def test_a_search_that_is_cut_short_says_how_far_it_was() -> None:
    with pytest.raises(SolverError, match="still rises by"):
        find_mode(Valley(), np.array([-1.2, 1.0]), left=1e-10, newton=2, steps=2)


def test_what_is_no_number_is_refused() -> None:
    class Broken:
        def posterior(self, theta: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
            return np.nan, np.array([np.nan]), np.eye(1)

    with pytest.raises(SolverError, match="not a number"):
        find_mode(Broken(), np.zeros(1), left=1e-6)
