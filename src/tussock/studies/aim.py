"""What looks ahead from the body: headlamps, cameras and radars. The rake of each fit-out turns them."""

from __future__ import annotations

from dataclasses import dataclass

from tussock.studies import model, rules
from tussock.studies.display import show
from tussock.studies.job import KERB, STOCK, Job, Setup
from tussock.studies.result import Cell, Column, Notice, Table


@dataclass(frozen=True, kw_only=True)
class Rake:
    """How a fit-out's body stands against the stock vehicle at kerb.

    Attributes
    ----------
    pitch : float
        Nose down positive [rad].
    rise : float
        Of the body above the front axle [m].
    """

    pitch: float
    rise: float


def rake(job: Job, setup: Setup) -> Rake:
    """Return how the body of a setup stands against the stock vehicle at kerb."""
    here, kerb = model.rest(job, setup), model.rest(job, Setup(fitout=KERB, build=STOCK))
    return Rake(
        pitch=float(here.pitch - kerb.pitch),
        rise=0.5 * float(sum(here.body_height[:2] - kerb.body_height[:2])),
    )


def headlamps(job: Job, build: str) -> tuple[Table | None, tuple[Notice, ...]]:
    """Return the dipped beam's height and inclination by fit-out, and what to do where it leaves its band.

    The bands are UN R48's, from memory; they hold for one person aboard, each fit-out is judged with its load.
    """
    lamp = job.programme.vehicle.headlamp
    if lamp is None:
        return None, ()
    rows: list[tuple[Cell, ...]] = []
    out: list[str] = []
    for name, record in job.programme.fitouts.items():
        stands = rake(job, Setup(fitout=name, build=build))
        height = float(lamp.height) + stands.rise
        # nose down is positive pitch: the beam then points further down
        inclination = float(lamp.inclination) - stands.pitch
        band = rules.lamp_band(height)
        inside = band is not None and band.least <= inclination <= band.most
        if not inside:
            out.append(record.title)
        rows.append(
            (
                record.title,
                height,
                inclination,
                band.least if band else None,
                band.most if band else None,
                "within" if inside else "set the lamps",
            )
        )
    table = Table(
        key="headlamps",
        title="Dipped beam as left from stock",
        columns=(
            Column(key="fitout", title="Fit-out"),
            Column(key="height", title="Lower edge", kind="length"),
            Column(key="inclination", title="Inclination", kind="share", sign=True),
            Column(key="least", title="From", kind="share", sign=True),
            Column(key="most", title="to", kind="share", sign=True),
            Column(key="verdict", title="Reading"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, r in enumerate(rows) if r[5] != "within"),
        note=rules.lamp_source() + "; judged with each fit-out's load, the rule is for one person aboard",
    )
    if not out:
        return table, ()
    notice = Notice(
        text="The dipped beam leaves its band in " + ", ".join(out),
        remedy="set the headlamps for the new height, with the levelling device at the driver-only mark",
    )
    return table, (notice,)


def aimed(job: Job, build: str) -> tuple[Table | None, tuple[Notice, ...]]:
    """Return how far the rake of every fit-out turns cameras and radars, and which must be calibrated again.

    A kit that moves a sensor's height or pitch at all calls for the maker's calibration where the maker says so; the
    range is what the sensor can learn by itself.
    """
    devices = job.programme.vehicle.aimed
    if not devices:
        return None, ()
    rows: list[tuple[Cell, ...]] = []
    beyond: dict[str, list[str]] = {}
    for name, record in job.programme.fitouts.items():
        stands = rake(job, Setup(fitout=name, build=build))
        for device in devices:
            limit = float(device.range)
            inside = abs(stands.pitch) <= limit
            if not inside:
                beyond.setdefault(device.name, []).append(record.title)
            rows.append(
                (
                    device.name,
                    record.title,
                    None if device.height is None else float(device.height) + stands.rise,
                    stands.pitch,
                    limit,
                    "within its range" if inside else "recalibrate",
                )
            )
    table = Table(
        key="aimed",
        title="Cameras and radars: how the rake turns them",
        columns=(
            Column(key="device", title="Sensor"),
            Column(key="fitout", title="Fit-out"),
            Column(key="height", title="Height", kind="length"),
            Column(key="pitch", title="Nose down", kind="angle_fine", sign=True),
            Column(key="range", title="Its range", kind="angle_fine"),
            Column(key="verdict", title="Reading"),
        ),
        rows=tuple(rows),
        strong=tuple(i for i, r in enumerate(rows) if r[5] == "recalibrate"),
        note="against stock at kerb; the range is its maker's, who may want a calibration after any change of height",
    )
    notices = tuple(
        Notice(
            text=f"{device}: the rake of {', '.join(fitouts)} turns it further than it can correct",
            remedy=f"recalibrate it with that load, and on the kit's springs; {show(0.0, 'angle')} is stock at kerb",
        )
        for device, fitouts in beyond.items()
    )
    return table, notices
