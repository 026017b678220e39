"""What the commands beside the stages do with dampers: calibrate, find a stack, build sheet, batch."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tussock.cli.work import run_study
from tussock.errors import InputError
from tussock.studies import build_sheet, valving_batch, valving_calibration, valving_search
from tussock.studies.job import Job
from tussock.studies.result import Result


def run_calibrate(file: Path, *, as_json: bool) -> bool:
    """Fit the dampers' parameters to the dyno runs; return whether held-out builds are predicted better."""
    return run_study(
        file, "Calibration", valving_calibration.QUESTION, lambda job: valving_calibration.study(job), as_json=as_json
    )


def run_find_stack(
    file: Path,
    *,
    damper: str,
    stroke: str,
    place: str,
    forces: Sequence[str],
    ratios: Sequence[str],
    band: str,
    fitout: str | None,
    changes: int,
    tried: int,
    as_json: bool,
) -> bool:
    """Search the stock for a stack; return whether one reaches every band."""
    want = valving_search.read_want(
        damper=damper, stroke=stroke, place=place, forces=forces, ratios=ratios, band=band, fitout=fitout,
        changes=changes, tried=tried,
    )  # fmt: skip
    return run_study(
        file, "Stack", valving_search.QUESTION, lambda job: valving_search.study(job, want), as_json=as_json
    )


def run_build_sheet(file: Path, *, damper: str, out: Path | None, as_json: bool) -> bool:
    """Show one damper's build sheet with its acceptance bands; write pictures and tables where a folder is named."""

    def make(job: Job) -> Result:
        result = build_sheet.study(job, damper)
        if out is not None:
            from tussock.release.outputs import write_outputs

            write_outputs([result], out)
        return result

    return run_study(file, "Build sheet", build_sheet.QUESTION, make, as_json=as_json)


def run_batch(file: Path, *, damper: str, measured: Path, as_json: bool) -> bool:
    """Judge a measured batch; return whether every damper passes."""
    try:
        text = measured.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"cannot read {measured}: {error}") from None
    return run_study(
        file,
        "Batch",
        valving_batch.QUESTION,
        lambda job: valving_batch.study(job, damper, text, name=measured.name),
        as_json=as_json,
    )
