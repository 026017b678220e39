"""Commands on how the vehicle moves by itself: modes, understeer. What they compute is in the studies."""

from __future__ import annotations

from typing import Annotated

import typer

from tussock.cli.commands import Against, AsJson, Build, File, Fitout, app, guarded
from tussock.cli.points_commands import Files

Speed = Annotated[str, typer.Option("--speed", metavar="SPEED", help="Held speed.")]


@app.command()
def modes(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    against: Against = None,
    speed: Speed = "80 km/h",
    road: Annotated[str, typer.Option("--road", metavar="CLASS", help="ISO 8608 class, A to H.")] = "C",
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """How does it swing, how well is each motion damped, and what does the road make of it?

    Ends with 1 when a motion grows by itself.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.cli.work import quantity
        from tussock.studies import modes as study

        held = quantity(speed, "speed", what="speed", example="80 km/h")
        passes = run_points(
            file,
            "modes",
            study.QUESTION,
            lambda job, _: study.study(job, fitout=fitout, build=build, against=against, speed=held, road=road.upper()),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def understeer(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    against: Against = None,
    speed: Speed = "80 km/h",
    lateral: Annotated[
        str, typer.Option("--lateral", metavar="ACCELERATION", help="Lateral acceleration of the bend.")
    ] = "3 m/s^2",
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """Does it under- or oversteer, how far does it roll, and what makes it so?

    Ends with 1 when it oversteers in that bend.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.cli.work import quantity
        from tussock.studies import understeer as study

        held = quantity(speed, "speed", what="speed", example="80 km/h")
        sideways = quantity(lateral, "acceleration", what="lateral acceleration", example="3 m/s^2")
        passes = run_points(
            file,
            "understeer",
            study.QUESTION,
            lambda job, _: study.study(job, fitout=fitout, build=build, against=against, speed=held, lateral=sideways),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def manoeuvres(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    against: Against = None,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """How does it behave in wind, bends, a lane change and braking?

    Crosswind gust (ISO 12021), passing lorry, steady circle (ISO 4138), step of the hand wheel (ISO 7401), double lane
    change (ISO 3888-1), braking on smooth and corrugated road. Ends with 1 when it oversteers, a wheel lifts in the
    lane change, or the rear wheels lock first.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.studies import manoeuvres as study

        passes = run_points(
            file,
            "manoeuvres",
            study.QUESTION,
            lambda job, _: study.study(job, fitout=fitout, build=build, against=against),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)


@app.command()
def wobble(
    context: typer.Context,
    file: File,
    fitout: Fitout = None,
    build: Build = None,
    against: Against = None,
    top: Annotated[str, typer.Option("--top", metavar="SPEED", help="Highest speed looked at.")] = "120 km/h",
    hands_off: Annotated[bool, typer.Option("--hands-off", help="Hand wheel free instead of held.")] = False,
    out: Files = None,
    as_json: AsJson = False,
) -> None:
    """Do the front wheels wobble with the axle, and what calms it?

    Ends with 1 when a wobble grows by itself below the highest speed.
    """
    with guarded(context):
        from tussock.cli.points import run_points
        from tussock.cli.work import quantity
        from tussock.studies import steer_wobble as study

        highest = quantity(top, "speed", what="highest speed", example="120 km/h")
        passes = run_points(
            file,
            "wobble",
            study.QUESTION,
            lambda job, _: study.study(
                job, fitout=fitout, build=build, against=against, top=highest, hands_off=hands_off
            ),
            out=out,
            as_json=as_json,
        )
        raise typer.Exit(0 if passes else 1)
