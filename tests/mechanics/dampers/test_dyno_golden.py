"""The demo's sweeps are the generator's output, and give back its invented curves.

Regenerate with ``python tools/make_tarn_dyno.py``.
"""

from __future__ import annotations

import runpy
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tussock.mechanics.dampers import ForceCurve, read, synthesise

pytestmark = pytest.mark.golden

ROOT = Path(__file__).parents[3]
TOOL: dict[str, Any] = runpy.run_path(str(ROOT / "tools" / "make_tarn_dyno.py"))
FOLDER = ROOT / "src" / "tussock" / "data" / "tarn" / "dyno"


@pytest.mark.parametrize("name", sorted(TOOL["CURVES"]))
def test_demo_sweeps(name: str) -> None:
    speeds = TOOL["SPEEDS"]
    compression, rebound, gas, friction, seed = TOOL["CURVES"][name]
    text = (FOLDER / f"{name}.csv").read_text(encoding="utf-8")
    true = ForceCurve.from_points(
        speeds=speeds, compression=compression, rebound=rebound, gas_force=gas, friction=friction, name=name
    )
    assert text == synthesise(true, speeds=(0.005, *speeds), stroke=0.1, seed=seed, cycles=1.5, samples_per_cycle=120)
    test = read(text, name=name)
    assert test.warnings == ()
    found = test.curve
    assert found.at(np.array(speeds)) == pytest.approx(np.array(compression), abs=6.0)  # 4 N of sensor noise
    assert -found.at(-np.array(speeds)) == pytest.approx(np.array(rebound), abs=6.0)
    assert (found.gas_force, found.friction) == pytest.approx((gas, friction), abs=3.0)
