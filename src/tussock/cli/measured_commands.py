"""Commands on measured drives: what the loggers recorded, and what it says of the vehicle."""

from __future__ import annotations

from typing import Annotated

import typer

from tussock.cli.commands import AsJson, Build, File, Fitout, app, guarded
from tussock.cli.points_commands import Files


@app.command()
def measured(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """What did the vehicle do on the road, and does the model drive like it?

    Ends with 1 when measured and simulated comfort are more than a quarter apart on a section.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.studies import measured as study

        passes = run_points(
            file,
            "measured",
            study.QUESTION,
            lambda job, _: study.study(job, fitout=fitout, build=build),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def fit(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    drives: Annotated[int, typer.Option("--drives", min=60, max=20_000, help="Of the model about the answer.")] = 300,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Of the roads that the model is driven on.")] = 1,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """Which values of what is uncertain make the model drive as the vehicle did?

    Ends with 1 when the model cannot be made to drive like the vehicle.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.studies import vehicle_fit as study

        passes = run_points(
            file,
            "fit",
            study.QUESTION,
            lambda job, report: study.study(job, fitout=fitout, build=build, drives=drives, seed=seed, progress=report),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)
