"""What the commands do: open, compute, show, write. Imports the heavy parts, so commands import it when they run."""

from __future__ import annotations

import datetime
import json
import os
import re
import shutil
import sys
import time
from collections.abc import Callable, Sequence
from importlib.resources import as_file, files
from pathlib import Path
from typing import TYPE_CHECKING

from rich.text import Text

from tussock.cli.progress import Progress, reporting
from tussock.cli.show import answer_text, console, show_notice, show_result, state_text
from tussock.errors import InputError, TussockError
from tussock.studies.result import Result

if TYPE_CHECKING:
    from tussock.studies.job import Job
    from tussock.studies.stages import Stage


def run_stage(
    name: str,
    file: Path,
    *,
    fitout: str | None,
    build: str | None,
    against: str | None,
    advice: Path | None = None,
    as_json: bool,
) -> bool:
    """Compute one stage, show it, and return whether its checks pass."""
    from tussock.studies.advise_kept import read_kept, with_advice

    kept = () if advice is None else read_kept(advice)
    job = open_programme(file)
    _check_names(job, fitout=fitout, build=build, against=against)
    stage = next(s for s in stages() if s.name == name)
    with reporting() as progress:
        compile_first(progress)
        progress.start(f"{stage.title}: {stage.question}")
        (result,) = with_advice([stage.run(job, fitout=fitout, build=build, against=against)], kept)
    if as_json:
        write_json(result.as_json())
    else:
        show_result(console(), result)
    return result.passes


def quantity(text: str, dimension: str, *, what: str, example: str) -> float:
    """Return a quantity of the command line in SI; InputError that shows how it is written."""
    from tussock.record.units import QuantityError, parse

    try:
        return parse(text, dimension, example=example).si
    except QuantityError as error:
        raise InputError(f"the {what}: {error}") from None


def run_study(file: Path, title: str, question: str, compute: Callable[[Job], Result], *, as_json: bool) -> bool:
    """Compute a study that stands beside the stages, show it, and return whether its checks pass."""
    job = open_programme(file)
    with reporting() as progress:
        compile_first(progress)
        progress.start(f"{title}: {question}")
        result = compute(job)
    if as_json:
        write_json(result.as_json())
    else:
        show_result(console(), result)
    return result.passes


def run_spring(file: Path, *, against: Path | None, name: str | None, free_length: str | None, as_json: bool) -> bool:
    """Show what a spring tester's file says, against an order if one is named; return whether the order is kept."""
    from tussock.record.units import QuantityError, parse
    from tussock.studies import spring_test

    if name is not None and against is None:
        raise InputError("a spring is named but no programme; say which with --against FILE")
    try:
        length = parse(free_length, "length", example="486 mm").si if free_length is not None else None
    except QuantityError as error:
        raise InputError(f"the free length: {error}") from None
    try:
        raw = file.read_bytes()
    except OSError as error:
        raise InputError(f"cannot read {file}: {error.strerror}") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")  # machines of the trade still write it; only titles can suffer
    job = open_programme(against) if against is not None else None
    result = spring_test.study(text, file.name, job=job, spring=name, free_length=length)
    if as_json:
        write_json(result.as_json())
    else:
        show_result(console(), result)
    return result.passes


def run_check(file: Path) -> None:
    """Open a programme and say what it holds; what is wrong arrives as InputError."""
    programme = open_programme(file).programme
    about = programme.programme
    out = console()
    out.print(Text(f"● {about.name}, {about.title}: nothing wrong found", style="bold"))
    counts = (
        (len(programme.fitouts), "fit-outs"),
        (len(programme.builds), "builds"),
        (len(set(programme.files().values())), "files"),
        (len(programme.drives), "drives"),
    )
    out.print(Text(f"Data: {about.data}. It holds " + ", ".join(f"{n} {what}" for n, what in counts) + "."))


def schema_text() -> str:
    """Return the JSON Schema of the programme file."""
    from tussock.record import json_schema

    return json.dumps(json_schema(), ensure_ascii=False, indent=2)


def run_release(
    file: Path,
    out: Path,
    *,
    fitout: str | None,
    build: str | None,
    against: str | None,
    date: str | None,
    advice: Path | None = None,
    as_json: bool,
) -> bool:
    """Run every stage, write everything, show the answers; return whether all checks pass."""
    from tussock.studies.advise_kept import read_kept, with_advice

    kept = () if advice is None else read_kept(advice)
    began = time.perf_counter()
    day = report_date(date)
    job = open_programme(file)
    _check_names(job, fitout=fitout, build=build, against=against)
    folder = ready_folder(out, job.programme.programme.name)
    results = with_advice(run_all(job, fitout=fitout, build=build, against=against), kept)
    written = write_all(job, results, folder, day)
    if as_json:
        write_json([r.as_json() for r in results])
    else:
        show_answers(results)
        show_written(folder, written, time.perf_counter() - began)
    return all(r.passes for r in results)


DEMOS = ("tarn", "dunnock")
"""Packaged programmes, by their folder: a wagon on rigid axles, a pick-up with wishbones and leaf springs."""


def run_demo(out: Path, *, date: str | None, only: str | None) -> None:
    """Run the packaged programmes through every stage, each from a copy that the user may go on from."""
    if only is not None and only not in DEMOS:
        raise InputError(f"there is no demo {only!r}; choose from {', '.join(DEMOS)}")
    day = report_date(date)
    for i, name in enumerate(DEMOS if only is None else (only,)):
        if i:
            console().print()
        _run_demo(out, name, day)


def _run_demo(out: Path, name: str, day: datetime.date) -> None:
    from tussock.studies.advise_kept import with_advice

    began = time.perf_counter()
    with as_file(files("tussock") / "data" / name) as packaged:
        folder = ready_folder(out, name)
        copy = folder / "programme"
        try:
            shutil.copytree(packaged, copy, dirs_exist_ok=True)
        except OSError as error:
            raise InputError(f"cannot write to {copy}: {error.strerror}") from error
    job = open_programme(copy / "programme.yaml")
    results = with_advice(run_all(job, fitout=None, build=None, against=None), ())
    written = write_all(job, results, folder, day)
    about = job.programme.programme
    console().print(Text(f"{about.name}: {about.title}. {about.note}", style="bold"))
    console().print(Text("All data of this demo is invented; it describes no real vehicle.", style="dim"))
    show_answers(results)
    show_written(folder, [*written, copy / "programme.yaml"], time.perf_counter() - began)


def open_programme(file: Path) -> Job:
    """Open a programme file; InputError if it is not there or anything in it is wrong."""
    from tussock.studies.job import open_job

    if file.is_dir():
        raise InputError(f"{file} is a folder; name the programme file in it, such as {file / 'programme.yaml'}")
    if not file.exists():
        raise InputError(f"there is no file {file}; name a programme, such as one that `tussock demo` writes")
    return open_job(file)


def stages() -> Sequence[Stage]:
    """Return the stages of the job in order."""
    from tussock.studies.stages import STAGES

    return STAGES


def run_all(job: Job, *, fitout: str | None, build: str | None, against: str | None) -> tuple[Result, ...]:
    """Run every stage in order and say on stderr which one runs."""
    results: list[Result] = []
    with reporting() as progress:
        compile_first(progress)
        for stage in stages():
            progress.start(f"{stage.title}: {stage.question}")
            try:
                results.append(stage.run(job, fitout=fitout, build=build, against=against))
            except TussockError as error:
                raise TussockError(f"{stage.title}: {error}") from error
    return tuple(results)


def write_all(job: Job, results: Sequence[Result], folder: Path, day: datetime.date) -> list[Path]:
    """Write report, data, tables and pictures; return the paths that matter to a reader."""
    from tussock.release.outputs import write_outputs
    from tussock.release.report import cover_of, write_report

    report = write_report(results, folder, cover=cover_of(job.programme, day))
    return [report, *write_outputs(results, folder)]


def report_date(text: str | None) -> datetime.date:
    """Return the date for the report: given, or SOURCE_DATE_EPOCH, or today.

    >>> report_date("2031-03-14")
    datetime.date(2031, 3, 14)
    """
    if text is not None:
        try:
            return datetime.date.fromisoformat(text)
        except ValueError:
            raise InputError(f"the date {text!r} is none; write it as 2031-03-14") from None
    epoch = os.environ.get("SOURCE_DATE_EPOCH")  # reproducible-builds.org: seconds since 1970, for equal bytes
    if epoch is not None:
        try:
            return datetime.datetime.fromtimestamp(int(epoch), tz=datetime.UTC).date()
        except (ValueError, OverflowError, OSError):
            raise InputError(f"SOURCE_DATE_EPOCH is {epoch!r}; it must be whole seconds since 1970") from None
    return datetime.datetime.now(tz=datetime.UTC).astimezone().date()


def ready_folder(out: Path, name: str) -> Path:
    """Make the folder for a programme's files before anything is computed; InputError if it cannot be.

    The parent of `out` must exist, so that a mistyped path makes no tree of folders.
    """
    slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "programme"
    if not out.parent.is_dir():
        raise InputError(f"cannot write to {out}: the folder {out.parent} does not exist; make it first")
    folder = out / slug
    for path in (out, folder):
        if path.exists() and not path.is_dir():
            raise InputError(f"cannot write to {path}: it is a file; name a folder with --out")
        try:
            path.mkdir(exist_ok=True)
        except OSError as error:
            raise InputError(f"cannot write to {path}: {error.strerror}; name another folder with --out") from error
    if not os.access(folder, os.W_OK | os.X_OK):
        raise InputError(f"cannot write to {folder}: permission denied; name another folder with --out")
    return folder


def write_json(value: object) -> None:
    """Write JSON on stdout and nothing else."""
    sys.stdout.write(json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False) + "\n")


def show_answers(results: Sequence[Result]) -> None:
    """Write question and answer of each stage in order, and what to look at."""
    out = console()
    for result in results:
        out.print()
        head = Text(result.stage[:1].upper() + result.stage[1:], style="bold")
        head.append("  ")
        head.append_text(state_text(result))
        out.print(head)
        out.print(Text(result.question, style="dim"))
        out.print(answer_text(result, out.width))
        for notice in result.notices:
            show_notice(out, notice)


def show_written(folder: Path, written: Sequence[Path], seconds: float) -> None:
    """Say where files went, whole enough to copy, and how long it took."""
    tables = sum(p.suffix == ".csv" for p in written)
    pictures = sum(p.suffix == ".svg" for p in written)
    lines = [str(p) for p in written if p.suffix not in (".csv", ".svg")]
    lines.append(f"{folder / 'tables'} ({tables} tables), {folder / 'pictures'} ({pictures} pictures)")
    out = console()
    out.print()
    out.print(Text(f"Written in {seconds:.1f} s:", style="bold"))
    for line in lines:
        out.print(Text(f"  {line}"), soft_wrap=True)


def _check_names(job: Job, *, fitout: str | None, build: str | None, against: str | None) -> None:
    """Refuse unknown names before anything is computed; the message says which there are."""
    job.setup(fitout, build)
    if against is not None:
        job.setup(fitout, against)


def compile_first(progress: Progress) -> None:
    """Compile what the studies need and say what is being compiled; quick when the machine code is on disk."""
    from tussock.studies.compile import compile_all

    compile_all(lambda name: progress.start(f"compiling {name}"))
