"""What compare, sweep and sensitivity do: open, run points with a bar, show, write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from rich.text import Text

from tussock.cli.progress import reporting
from tussock.cli.show import console, show_result
from tussock.cli.work import compile_first, open_programme, ready_folder, write_json
from tussock.studies.result import Result

if TYPE_CHECKING:
    from tussock.studies.job import Job
    from tussock.studies.point_runs import How, Report


def run_points(
    file: Path,
    name: str,
    question: str,
    compute: Callable[[Job, Report], Result],
    *,
    out: Path | None,
    as_json: bool,
) -> bool:
    """Compute a study of many points, show it, write its files if a folder is named; return whether it passes."""
    job = open_programme(file)
    folder = ready_folder(out, name) if out is not None else None
    with reporting() as progress:
        compile_first(progress)
        progress.start(f"{name.capitalize()}: {question}")
        result = compute(job, progress.count)
    if folder is not None:
        from tussock.release.outputs import write_outputs

        written = write_outputs([result], folder)
    if as_json:
        write_json(result.as_json())
    else:
        show_result(console(), result)
        if folder is not None:
            console().print(Text(f"\n{len(written)} files in {folder}"), soft_wrap=True)
    return result.passes


def how_of(*, threads: int, cluster: str, file: Path | None, resume: bool) -> How:
    """Return how points are run; InputError before anything is opened if that cannot be."""
    from tussock.studies.point_runs import How

    return How(threads=threads, cluster=cluster, file=file, resume=resume)
