"""Commands on dampers: dyno files, parameters, stacks, sheets, batches. What they compute is in the studies."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from tussock.cli.commands import AsJson, File, Fitout, app, guarded

Damper = Annotated[str, typer.Option("--damper", metavar="NAME", help="Damper of the kit.")]


@app.command()
def dyno(
    context: typer.Context,
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILE...", help="Sweeps of one unit each: CSV or ASAM MDF.", show_default=False),
    ],
    against: Annotated[
        Path | None,
        typer.Option("--against", metavar="FILE", help="Sweep of the unit to compare with; else the first."),
    ] = None,
    programme: Annotated[
        Path | None, typer.Option("--programme", metavar="FILE", help="Programme whose damper to compare with.")
    ] = None,
    damper: Annotated[
        str | None,
        typer.Option("--damper", metavar="NAME", help="That damper: its attached sweep and its prediction."),
    ] = None,
    channel: Annotated[
        list[str] | None,
        typer.Option("--channel", metavar="NAME=TITLE", help="Column of a channel: 'force=cell 2 [kN]'. Repeatable."),
    ] = None,
    rate: Annotated[
        float | None, typer.Option("--rate", metavar="HZ", help="Samples in a second, where no time is recorded.")
    ] = None,
    cutoff: Annotated[
        float | None,
        typer.Option("--cutoff", metavar="HZ", help="Low-pass filter of the force, shifts nothing; else none."),
    ] = None,
    split: Annotated[
        bool, typer.Option("--split", help="Part runs in which the speed changes without a pause.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder that gets a folder dyno with all files.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """What does the damper do on the dyno, and is it the damper that it should be?

    Ends with 1 when a force lies outside the production band (QC/T 491-1999) around what it is compared with.
    """
    with guarded(context):
        from tussock.cli.dyno import run_dyno

        passes = run_dyno(
            files,
            against=against,
            programme=programme,
            damper=damper,
            channels=channel or [],
            rate=rate,
            cutoff=cutoff,
            split=split,
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def calibrate(context: typer.Context, file: File, as_json: AsJson = False) -> None:
    """What do the dyno runs say of leakage, discharge, preload and friction?"""
    with guarded(context):
        from tussock.cli.valving import run_calibrate

        raise typer.Exit(0 if run_calibrate(file, as_json=as_json) else 1)


@app.command("find-stack")
def find_stack(
    context: typer.Context,
    file: File,
    damper: Damper,
    stroke: Annotated[str, typer.Option("--stroke", metavar="STROKE", help="compression or rebound.")],
    place: Annotated[str, typer.Option("--place", metavar="PLACE", help="piston, foot or reservoir.")] = "piston",
    want: Annotated[
        list[str] | None, typer.Option("--want", metavar="SPEED:FORCE", help="Such as '0.26 m/s: 800 N'; repeat it.")
    ] = None,
    ratio: Annotated[
        list[str] | None,
        typer.Option("--ratio", metavar="SPEED:RATIO", help="Damping ratio of the body, such as '0.26 m/s: 0.30'."),
    ] = None,
    band: Annotated[str, typer.Option("--band", metavar="SHARE", help="Either way of every force.")] = "5 %",
    fitout: Fitout = None,
    changes: Annotated[int, typer.Option("--changes", min=1, max=6, help="Most changes of disc.")] = 3,
    tried: Annotated[int, typer.Option("--tried", min=100, help="Stacks to try at most.")] = 20_000,
    as_json: AsJson = False,
) -> None:
    """Which discs of the stock give a wanted curve, and with how few changes?"""
    with guarded(context):
        from tussock.cli.valving import run_find_stack

        found = run_find_stack(
            file, damper=damper, stroke=stroke, place=place, forces=want or (), ratios=ratio or (), band=band,
            fitout=fitout, changes=changes, tried=tried, as_json=as_json,
        )  # fmt: skip
        raise typer.Exit(0 if found else 1)


@app.command("build-sheet")
def build_sheet(
    context: typer.Context,
    file: File,
    damper: Damper,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for its drawings and tables; else none.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """What goes into a damper, and between which forces must it dyno?"""
    with guarded(context):
        from tussock.cli.valving import run_build_sheet

        raise typer.Exit(0 if run_build_sheet(file, damper=damper, out=out, as_json=as_json) else 1)


@app.command()
def batch(
    context: typer.Context,
    file: File,
    damper: Damper,
    measured: Annotated[
        Path,
        typer.Option("--measured", metavar="CSV", help="First column serial, then one a velocity ('-0.26 m/s')."),
    ],
    as_json: AsJson = False,
) -> None:
    """Does a batch of dampers pass its dyno bands, and is the process capable?"""
    with guarded(context):
        from tussock.cli.valving import run_batch

        raise typer.Exit(0 if run_batch(file, damper=damper, measured=measured, as_json=as_json) else 1)
