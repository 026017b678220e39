"""Dyno: what does the damper do on the bench, and is it the damper that it should be?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import tussock
from tussock.mechanics.dampers import DynoTest, ForceCurve
from tussock.mechanics.dampers.dyno_compare import SPEEDS, Difference, UnitComparison, compare_units, curve_of
from tussock.studies.display import show
from tussock.studies.dyno_pictures import pictures
from tussock.studies.dyno_tables import tables
from tussock.studies.result import Notice, Provenance, Result

QUESTION = "What does the damper do on the dyno, and is it the damper that it should be?"
JUDGED = 0.52  # the force test of QC/T 545-1999 [m/s]
_REMEDIES: tuple[tuple[str, str], ...] = (
    ("no run at or below", "add a run at 5 mm/s or slower, which measures both"),
    ("drifts", "zero the load cell, warm the rig up and repeat the test"),
    ("damper was between", "let the damper cool between runs, to 20 +- 2 °C as QC/T 545-1999 has it"),
    ("lags behind", "bleed the damper, see to the mounts, and repeat the run"),
    ("free travel", "bleed the damper and see to its mounts; if the loop stays, look at its gas and foot valve"),
)


@dataclass(frozen=True, kw_only=True)
class Reference:
    """What units are held against.

    Attributes
    ----------
    title : str
        What it is, for the answer: "front-a.csv", "the prediction for front_b".
    unit : DynoTest or ForceCurve
        Its sweep or curve.
    judged : bool
        Whether a force outside the production band around it makes the check fail.
    """

    title: str
    unit: DynoTest | ForceCurve
    judged: bool = True


def study(
    tests: Sequence[DynoTest],
    *,
    references: Sequence[Reference] = (),
    settings: Mapping[str, str] | None = None,
    digest: str = "",
) -> Result:
    """Return what the sweeps show and how the units differ from what they are held against.

    Parameters
    ----------
    tests : sequence of DynoTest
        One or more units, of distinct names.
    references : sequence of Reference
        What each is held against. Without any, the second and further units are held against the first.
    settings : mapping, optional
        What the user said about the files (channels, sampling rate), for the inputs.
    digest : str
        SHA-256 over the files.

    Returns
    -------
    Result
        Passes unless a force lies outside the production band (QC/T 491-1999) around a judged reference.
    """
    held = list(tests)
    against = list(references)
    if not against and len(held) > 1:
        against, held = [Reference(title=tests[0].name, unit=tests[0])], held[1:]
    pairs = [(one, ref, compare_units(one, ref.unit)) for ref in against for one in held if one is not ref.unit]
    passes = all(found.within_band for _, ref, found in pairs if ref.judged)
    return Result(
        stage="dyno",
        question=QUESTION,
        answer=_answer(tests, [(ref, found) for _, ref, found in pairs]),
        passes=passes,
        provenance=Provenance(
            programme=", ".join(t.name for t in tests), digest=digest, tussock=tussock.__version__, data="dyno files"
        ),
        notices=tuple(_notices(tests, [(ref, found) for _, ref, found in pairs])),
        pictures=pictures(tests, against),
        tables=tables(tests, [(ref.title, found) for _, ref, found in pairs]),
        inputs=_inputs(tests, against, settings or {}),
        values=_values(tests[0], [found for _, _, found in pairs]),
    )


def filter_words(test: DynoTest) -> str:
    """Say what the force went through."""
    if test.cutoff is None:
        return "not filtered"
    left = sum(r.filter_change == 0.0 for r in test.runs)
    moved = max(r.filter_change for r in test.runs)
    words = (
        f"low-pass at {test.cutoff:g} Hz (amplitude 0.71 there), no shift in time; it moved a force by at most "
        f"{show(moved, 'force', digits=1)}"
    )
    return f"{words}; {left} runs sampled too slowly for it stand as recorded" if left else words


def _answer(tests: Sequence[DynoTest], pairs: Sequence[tuple[Reference, UnitComparison]]) -> str:
    first = tests[0]
    curve = first.curve
    top = min(JUDGED, -curve.measured_range[0], curve.measured_range[1])
    gas = _with_error(first.rest.gas, first.rest.gas_error)
    text = (
        f"{first.name} gives {show(-curve.force_at(-top), 'force')} in rebound and "
        f"{show(curve.force_at(top), 'force')} in compression at {show(top, 'velocity')}, with a gas force of {gas} "
        f"and {_friction(first)}"
    )
    if not pairs:
        return f"{text}; its forces scatter by at most {show(first.scatter, 'force', digits=1)}."
    names = {found.name for _, found in pairs}
    if names == {first.name}:
        parts = [
            f"{'within' if found.within_band else 'outside'} the production band around {ref.title}, at most "
            f"{_difference(found.worst)}"
            for ref, found in pairs
        ]
        return f"{text}; it lies {' and '.join(parts)}."
    bad = {found.name for _, found in pairs if not found.within_band}
    titles = list(dict.fromkeys(ref.title for ref, _ in pairs))
    units = f"of {len(names)} units" if len(names) > 1 else next(iter(names))
    lie = "lies" if len(names) == 1 else "lie"
    inside = f"{len(names) - len(bad)} {lie} within" if len(names) > 1 else f"lies {'outside' if bad else 'within'}"
    _, far = max(pairs, key=lambda p: abs(p[1].worst.difference) / p[1].worst.band)
    furthest = f", the furthest being {far.name} with" if len(names) > 1 else ", at most"
    around = f"the production band around {' and '.join(titles)}"
    return f"{text}; {units} {inside} {around}{furthest} {_difference(far.worst)}."


def _with_error(value: float, error: float) -> str:
    return f"{show(value, 'force')[:-2]} ± {show(error, 'force')}"


def _friction(test: DynoTest) -> str:
    if test.rest.method == "lowest speeds carried on to zero":
        return "friction not told apart"
    return f"friction of {_with_error(test.rest.friction, test.rest.friction_error)}"


def _difference(worst: Difference) -> str:
    return (
        f"{show(worst.difference, 'force', sign=True)} ({show(worst.share, 'share', digits=0, sign=True)}) in "
        f"{worst.direction} at {show(worst.speed, 'velocity')}"
    )


def _notices(tests: Sequence[DynoTest], pairs: Sequence[tuple[Reference, UnitComparison]]) -> list[Notice]:
    found: list[Notice] = []
    for ref, comparison in pairs:
        for d in comparison.differences:
            if d.within_band:
                continue
            certain = "" if d.significant else "; its scatter is as large as that"
            found.append(
                Notice(
                    text=f"{comparison.name}: {show(d.force, 'force')} in {d.direction} at "
                    f"{show(d.speed, 'velocity')}, "
                    f"{show(d.difference, 'force', sign=True)} from {ref.title}, where "
                    f"± {show(d.band, 'force')} is permitted{certain}",
                    remedy=_remedy(d),
                )
            )
    for test in tests:
        for warning in test.warnings:
            remedy = next((words for key, words in _REMEDIES if key in warning), "")
            found.append(
                Notice(text=f"{test.name}: {warning}", remedy=remedy or "look at the loop; repeat the run if in doubt")
            )
    return found


def _remedy(d: Difference) -> str:
    way = "more" if d.difference < 0.0 else "less"
    part = "bleed and leakage" if d.speed < 0.1 else "the disc stack and its preload"
    need = f"{show(abs(d.difference), 'force')} {way} {d.direction} is needed"
    return f"{need}: look at {part}, or correct the reference"


def _inputs(tests: Sequence[DynoTest], references: Sequence[Reference], settings: Mapping[str, str]) -> dict[str, str]:
    found = {}
    for test in tests:
        kinds = " and ".join(dict.fromkeys(r.motion for r in test.runs))
        found[test.name] = f"{len(test.runs)} runs, {kinds}; force {filter_words(test)}"
    found |= {f"against {i}": ref.title for i, ref in enumerate(references, start=1)}
    return found | dict(settings)


def _values(test: DynoTest, comparisons: Sequence[UnitComparison]) -> dict[str, float | str | bool]:
    curve = test.curve
    values: dict[str, float | str | bool] = {
        "gas_force_n": curve.gas_force,
        "gas_force_error_n": test.rest.gas_error,
        "friction_n": curve.friction,
        "friction_error_n": test.rest.friction_error,
        "rest_forces_from": test.rest.method,
        "scatter_n": test.scatter,
    }
    for speed in SPEEDS:
        for direction, sign in (("compression", 1.0), ("rebound", -1.0)):
            if not bool(curve.is_extrapolated(sign * speed)):
                values[f"{direction}_at_{speed:g}_m_s_n"] = abs(curve.force_at(sign * speed))
    if test.mean_temperature is not None:
        values["temperature_k"] = test.mean_temperature
    if test.cutoff is not None:
        values["filter_cutoff_hz"] = test.cutoff
    if comparisons:
        worst = max((c.worst for c in comparisons), key=lambda d: abs(d.difference) / d.band)
        values["worst_difference_n"] = worst.difference
        values["worst_share_of_band"] = abs(worst.difference) / worst.band
    return {k: v for k, v in values.items() if not (isinstance(v, float) and math.isnan(v))}


__all__ = ["QUESTION", "Reference", "curve_of", "filter_words", "study"]
