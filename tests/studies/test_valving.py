"""What the dampers of the invented Tarn do, against hand formulas, and that the remedy cures."""

from __future__ import annotations

import math

import pytest
from vary_programme import Vary

from tussock.mechanics.dampers import production_band
from tussock.studies import dampers, model, parts
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup


def straight_damper(rebound: float, compression: float) -> dict[str, object]:
    """A damper of the kit given by points: straight through zero, so its damping is known."""
    return {
        "title": "front damper by points",
        "axle": "front",
        "open_length": "606 mm",
        "closed_length": "372 mm",
        "curve": [
            f"-1.04 m/s: {-1.04 * rebound:.3f} N",
            f"-0.26 m/s: {-0.26 * rebound:.3f} N",
            f"0.26 m/s: {0.26 * compression:.3f} N",
            f"1.04 m/s: {1.04 * compression:.3f} N",
        ],
    }


def test_damping_ratio_by_hand(vary: Vary) -> None:
    """Derived, quarter car: zeta = c r^2 / (2 sqrt(K m)), c the mean of rebound and compression, r the motion ratio."""
    job = vary({"kit.dampers.front_b": straight_damper(3000.0, 1500.0)})
    setup = Setup("bare", "B3")
    ratio, rate = model.damper_ratio(job, setup, "front"), model.wheel_rate(job, setup, "front")
    wanted = 2250.0 * ratio**2 / (2.0 * math.sqrt(rate * parts.sprung_corner(job, "bare", "front")))
    assert dampers.ratio_at(job, setup, "front", 0.26) == pytest.approx(wanted, rel=1e-6)
    # a straight damper damps alike at every speed
    assert dampers.ratio_at(job, setup, "front", 0.52) == pytest.approx(wanted, rel=1e-6)


def test_a_lighter_vehicle_wants_less_force_at_the_same_ratio(job: Job) -> None:
    """Common practice, no source: at one damping ratio the force goes with the root of rate times mass."""
    setup = {f: Setup(f, "B3") for f in ("bare", "rescue")}
    ratios = {f: dampers.ratio_at(job, s, "rear", 0.26) for f, s in setup.items()}
    critical = {
        f: 2.0 * math.sqrt(model.wheel_rate(job, s, "rear") * parts.sprung_corner(job, f, "rear"))
        / model.damper_ratio(job, s, "rear") ** 2
        for f, s in setup.items()
    }  # fmt: skip
    assert critical["bare"] < critical["rescue"]
    assert ratios["bare"] * critical["bare"] == pytest.approx(ratios["rescue"] * critical["rescue"], rel=1e-9)


@pytest.mark.literature
@pytest.mark.parametrize(
    ("force", "direction", "band"),
    [(1000.0, "rebound", 180.0), (1000.0, "compression", 200.0), (0.0, "rebound", 40.0), (0.0, "compression", 40.0)],
)
def test_production_band(force: float, direction: str, band: float) -> None:
    """QC/T 491-1999, 1.2.2, from a public copy: 14 % + 40 N in rebound, 16 % + 40 N in compression."""
    assert production_band(force, direction) == pytest.approx(band)  # type: ignore[arg-type]


def test_build_sheet_is_the_curve_with_its_band(job: Job) -> None:
    for row in dampers.study(job).table("build_sheet").rows:
        end, name, speed, rebound, rebound_band, compression, compression_band = row
        curve = parts.fitted(job, Setup("bare", "B3"), str(end)).curve
        assert name == f"{end}_b"
        assert rebound == pytest.approx(-curve.force_at(-float(speed or 0.0)))
        assert compression == pytest.approx(curve.force_at(float(speed or 0.0)))
        assert rebound_band == pytest.approx(0.14 * float(rebound or 0.0) + 40.0)
        assert compression_band == pytest.approx(0.16 * float(compression or 0.0) + 40.0)


def test_the_demo_lies_in_its_window_and_its_firm_build_does_not(job: Job) -> None:
    assert dampers.study(job).passes
    firm = dampers.study(job, build="B2")
    assert not firm.passes
    assert all("less force around 0.26 m/s" in n.remedy for n in firm.notices if "of critical" in n.text)
    soft = dampers.study(job, build="B1")
    assert not soft.passes
    assert all("more force around 0.26 m/s" in n.remedy for n in soft.notices)


@pytest.mark.parametrize(("rebound", "compression"), [(1600.0, 700.0), (8000.0, 3000.0)])
def test_the_remedy_scales_the_curve_into_the_window(rebound: float, compression: float, vary: Vary) -> None:
    """Of all notices of one axle the one that asks for most; rounded to whole per cent, so one per cent is added."""
    result = dampers.study(vary({"kit.dampers.front_b": straight_damper(rebound, compression)}))
    asked = [n.remedy for n in result.notices if ", front:" in n.text]
    assert len(asked) == 3
    share = max(float(text.split(" %")[0]) for text in asked) / 100.0
    factor = 1.0 + share + 0.01 if "more" in asked[0] else 1.0 - share - 0.01
    scaled = straight_damper(rebound * factor, compression * factor)
    after = dampers.study(vary({"kit.dampers.front_b": scaled}))
    assert not [n for n in after.notices if ", front:" in n.text]


def test_stock_and_builds_are_set_side_by_side(job: Job) -> None:
    table = dampers.study(job).table("front_forces")
    builds = [row[0] for row in table.rows]
    assert builds == [b for b in ("stock", "B1", "P1", "P2", "B2", "B3") for _ in range(2)]
    at = [c.key for c in table.columns].index("at_0.52")
    stock, firm = (next(r for r in table.rows if r[0] == b and r[2] == "rebound") for b in ("stock", "B2"))
    assert firm[-1] == pytest.approx(float(firm[at] or 0.0) / float(stock[at] or 1.0) - 1.0)


@pytest.mark.parametrize("end", ENDS)
def test_kerb_in_stock_is_damped_as_common(end: str, job: Job) -> None:
    """Common practice, no source: production utility vehicles are damped at 0.2 to 0.4 of critical around 0.26 m/s."""
    assert 0.2 < dampers.ratio_at(job, Setup(KERB, STOCK), end, 0.26) < 0.4
