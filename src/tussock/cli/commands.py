"""Commands, arguments and options. What they do is in `work`; how it is shown is in `show`."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from tussock.errors import InputError, TussockError

app = typer.Typer(
    name="tussock",
    help="The workbench of a suspension engineer who develops kits for existing four-wheel drives.\n\n"
    "Exit codes: 0 done, 1 an engineering check fails, 2 the input is wrong, 3 a fault of Tussock itself.",
    epilog="Figures are design aids, not certification; local codes and a licensed engineer decide.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)

File = Annotated[Path, typer.Argument(metavar="FILE", help="The programme, a YAML file.", show_default=False)]
Fitout = Annotated[
    str | None, typer.Option("--fitout", metavar="NAME", help="Fit-out by name, or kerb; else the first.")
]
Build = Annotated[str | None, typer.Option("--build", metavar="NAME", help="Build by name, or stock; else the last.")]
Against = Annotated[str | None, typer.Option("--against", metavar="NAME", help="Build to compare with; else stock.")]
AsJson = Annotated[bool, typer.Option("--json", help="Write the result as JSON in SI units, and nothing else.")]
Advice = Annotated[
    Path | None,
    typer.Option(
        "--results", metavar="DIR", help="Folder of `advise --results`: its kept answer is shown, not asked anew."
    ),
]
Out = Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder that gets a folder of the programme's name.")]
Date = Annotated[
    str | None,
    typer.Option("--date", metavar="YYYY-MM-DD", help="Date on the report; else SOURCE_DATE_EPOCH, else today."),
]


def _version(wanted: bool) -> None:
    if wanted:
        from tussock import __version__

        typer.echo(f"tussock {__version__}")
        raise typer.Exit


@app.callback()
def _top(
    context: typer.Context,
    debug: Annotated[bool, typer.Option("--debug", help="Show where in the code a fault arose.")] = False,
    version: Annotated[
        bool, typer.Option("--version", help="Write the version.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    context.obj = {"debug": debug}


@contextlib.contextmanager
def guarded(context: typer.Context) -> Iterator[None]:
    """Turn every error into one clear message and the exit code that belongs to it; never a traceback unasked."""
    debug = bool((context.obj or {}).get("debug"))
    try:
        yield
    except TussockError as error:
        if debug:
            raise
        from tussock.cli.show import show_error

        show_error(str(error))
        raise typer.Exit(2) from None
    except KeyboardInterrupt as stopped:
        typer.echo(str(stopped) or "Stopped. No file was left half written.", err=True)
        raise typer.Exit(130) from None
    except (typer.Exit, typer.Abort, BrokenPipeError):
        raise
    except Exception as error:
        if debug:
            raise
        what = f"{type(error).__name__}: {' '.join(str(error).split())}"
        typer.echo(
            f"Fault in Tussock, not in your file: {what}. Run `tussock --debug ...` to see where, and report it.",
            err=True,
        )
        raise typer.Exit(3) from None


def _stage(
    context: typer.Context,
    name: str,
    file: Path,
    *,
    fitout: str | None = None,
    build: str | None = None,
    against: str | None = None,
    advice: Path | None = None,
    as_json: bool,
) -> None:
    with guarded(context):
        from tussock.cli.work import run_stage

        passes = run_stage(name, file, fitout=fitout, build=build, against=against, advice=advice, as_json=as_json)
        raise typer.Exit(0 if passes else 1)


@app.command()
def demo(
    context: typer.Context,
    out: Out = Path("out"),
    date: Date = None,
    only: Annotated[str | None, typer.Option("--only", metavar="NAME", help="One of them: tarn or dunnock.")] = None,
) -> None:
    """Run two invented rescue vehicles through every stage; answers here, files in DIR/tarn and DIR/dunnock.

    Ends with 0 when every stage ran, also where a check of the demo's kit fails: that is shown.
    """
    with guarded(context):
        from tussock.cli.work import run_demo

        run_demo(out, date=date, only=only)


@app.command()
def check(context: typer.Context, file: File) -> None:
    """Read a programme and say everything that is wrong with it."""
    with guarded(context):
        from tussock.cli.work import run_check

        run_check(file)


@app.command()
def schema(context: typer.Context) -> None:
    """Write the JSON Schema of the programme file."""
    with guarded(context):
        from tussock.cli.work import schema_text

        typer.echo(schema_text())


@app.command()
def baseline(context: typer.Context, file: File, as_json: AsJson = False) -> None:
    """What do we have, and does the model reproduce it?"""
    _stage(context, "baseline", file, as_json=as_json)


@app.command()
def targets(context: typer.Context, file: File, as_json: AsJson = False) -> None:
    """What must it become, and what do the rules allow?"""
    _stage(context, "targets", file, as_json=as_json)


@app.command()
def heights(context: typer.Context, file: File, build: Build = None, as_json: AsJson = False) -> None:
    """Which spring holds which fit-out at the target height?"""
    _stage(context, "heights", file, build=build, as_json=as_json)


@app.command()
def steps(
    context: typer.Context,
    file: File,
    axle: Annotated[str, typer.Option("--axle", metavar="NAME", help="front or rear.")] = "front",
    fitout: Fitout = None,
    build: Build = None,
    least: Annotated[float, typer.Option("--least", help="First rate over the stock spring's.")] = 0.8,
    most: Annotated[float, typer.Option("--most", help="Last rate over the stock spring's.")] = 1.6,
    count: Annotated[int, typer.Option("--count", min=2, max=30, help="How many rates.")] = 7,
    as_json: AsJson = False,
) -> None:
    """How firm may the spring be before it is too much? Rates in steps from below stock upwards."""
    with guarded(context):
        from tussock.cli.work import run_study
        from tussock.studies import spring_steps

        passes = run_study(
            file,
            "Steps",
            spring_steps.QUESTION,
            lambda job: spring_steps.study(
                job, end=axle, fitout=fitout, build=build, least=least, most=most, count=count
            ),
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def loads(
    context: typer.Context, file: File, fitout: Fitout = None, build: Build = None, as_json: AsJson = False
) -> None:
    """What do bushes and links carry, and how far do they give? Turning, braking, driving, bump."""
    with guarded(context):
        from tussock.cli.work import run_study
        from tussock.studies import link_loads

        run_study(
            file,
            "Loads",
            link_loads.QUESTION,
            lambda job: link_loads.study(job, fitout=fitout, build=build),
            as_json=as_json,
        )


@app.command()
def hardpoints(
    context: typer.Context,
    file: File,
    axle: Annotated[str | None, typer.Option("--axle", metavar="NAME", help="front or rear; else both.")] = None,
    as_json: AsJson = False,
) -> None:
    """Which hardpoint moves what, and how sure are the figures?"""
    with guarded(context):
        from tussock.cli.work import run_study
        from tussock.studies import hardpoint_effects

        run_study(
            file,
            "Hardpoints",
            hardpoint_effects.QUESTION,
            lambda job: hardpoint_effects.study(job, end=axle),
            as_json=as_json,
        )


@app.command("carry-over")
def carry_over(
    context: typer.Context,
    file: File,
    earlier: Annotated[Path, typer.Option("--from", metavar="FILE", help="Programme of the earlier kit.")],
    fitout: Fitout = None,
    build: Build = None,
    as_json: AsJson = False,
) -> None:
    """Which parts of the earlier kit fit here, and what would they give?"""
    with guarded(context):
        from tussock.cli.work import open_programme, run_study
        from tussock.studies import carry_over as carry

        passes = run_study(
            file,
            "Carry-over",
            carry.QUESTION,
            lambda job: carry.study(job, open_programme(earlier), fitout=fitout, build=build),
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def travel(
    context: typer.Context, file: File, fitout: Fitout = None, build: Build = None, as_json: AsJson = False
) -> None:
    """How far may it droop and bump, and so how far may it be lifted?"""
    _stage(context, "travel", file, fitout=fitout, build=build, as_json=as_json)


@app.command()
def springs(
    context: typer.Context, file: File, fitout: Fitout = None, build: Build = None, as_json: AsJson = False
) -> None:
    """Which spring is made how, and does it survive?"""
    _stage(context, "springs", file, fitout=fitout, build=build, as_json=as_json)


@app.command()
def spring(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The spring tester's file (CSV).", show_default=False)],
    against: Annotated[
        Path | None, typer.Option("--against", metavar="FILE", help="Programme that holds the order.")
    ] = None,
    name: Annotated[
        str | None,
        typer.Option("--name", metavar="NAME", help="Spring of its kit, or front or rear for the vehicle's own."),
    ] = None,
    free_length: Annotated[
        str | None,
        typer.Option("--free-length", metavar="LENGTH", help="Such as '486 mm', for a file of deflections."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """What is this spring, and is it what was ordered?"""
    with guarded(context):
        from tussock.cli.work import run_spring

        passes = run_spring(file, against=against, name=name, free_length=free_length, as_json=as_json)
        raise typer.Exit(0 if passes else 1)


@app.command()
def geometry(
    context: typer.Context, file: File, fitout: Fitout = None, build: Build = None, as_json: AsJson = False
) -> None:
    """What did the lift spoil, and what part mends it?"""
    _stage(context, "geometry", file, fitout=fitout, build=build, as_json=as_json)


@app.command()
def dampers(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    as_json: AsJson = False,
) -> None:
    """What do the dampers do, and does that suit the vehicle?"""
    _stage(context, "dampers", file, fitout=fitout, build=build, as_json=as_json)


@app.command()
def drive(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    against: Against = None,
    section: Annotated[
        str | None, typer.Option("--section", metavar="NAME", help="One section of the loop: what happens on it?")
    ] = None,
    channel: Annotated[
        str | None,
        typer.Option("--channel", metavar="KEY", help="Of that section, what is looked at; else seat_up."),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Folder for that section's pictures, tables and data; else none."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """How will it ride and hold the road?"""
    if section is None:
        with guarded(context):
            if channel is not None or out is not None:
                raise InputError("--channel and --out are of one section; say which with --section NAME")
        _stage(context, "drive", file, fitout=fitout, build=build, against=against, as_json=as_json)
        return
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.studies import section as study
        from tussock.studies.section_channels import USUAL

        passes = run_points(
            file,
            "section",
            study.QUESTION,
            lambda job, _: study.study(
                job, fitout=fitout, build=build, against=against, section=section, channel=channel or USUAL
            ),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def tune(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    results: Advice = None,
    as_json: AsJson = False,
) -> None:
    """Which build balances comfort and control best, and what do we build next?"""
    _stage(context, "tuning", file, fitout=fitout, build=build, advice=results, as_json=as_json)


@app.command()
def release(
    context: typer.Context,
    file: File,
    out: Out = Path("out"),
    fitout: Fitout = None,
    build: Build = None,
    against: Against = None,
    date: Date = None,
    results: Advice = None,
    as_json: AsJson = False,
) -> None:
    """What do we hand over, and is it ready? Runs every stage and writes report, tables, pictures and data."""
    with guarded(context):
        from tussock.cli.work import run_release

        passes = run_release(
            file, out, fitout=fitout, build=build, against=against, date=date, advice=results, as_json=as_json
        )
        raise typer.Exit(0 if passes else 1)


def main() -> None:
    """Entry point of the `tussock` command."""
    # our matrices are small: threads of the linear algebra wait for one another and take the cores from our own threads
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        # a true minus sign must never become a question mark, whatever the terminal claims to read
        if (getattr(stream, "encoding", None) or "").lower().replace("-", "") != "utf8":
            reconfigure = getattr(stream, "reconfigure", None)
            if reconfigure is not None:
                reconfigure(encoding="utf-8")
    app()
