"""Write the packaged Tarn's logger files: a hidden vehicle driven on hidden roads, through sensors with faults.

    python tools/make_tarn_logger.py [folder]

Everything is invented. The hidden vehicle differs from the model by the factors of `HIDDEN`; its roads are random
ones of the sections' classes on a seed of their own, one surface for all passes of a section, rougher or smoother than
the class's mean by `ROUGHNESS`, driven at speeds that differ by `PACE`. What the sensors do to it is in `SENSORS` and
`spoil`: noise, resolution, range, a clock that is late, a channel that dies, spikes, a gap, positions with the
receiver's error, an accelerometer that sees gravity.
"""

from __future__ import annotations

import gzip
import sys
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path

import numpy as np
from scipy.interpolate import CubicSpline

from tussock.mechanics.identify import Plan, Sensors, changed, drive, usual_places
from tussock.mechanics.logger.sections import EARTH
from tussock.mechanics.motion import settle
from tussock.studies import loop, model, parts
from tussock.studies.job import Setup, open_job

SETUP = Setup(fitout="bare", build="B3")
SECTIONS = ("fast gravel", "forest track")
HIDDEN = {
    "front_rebound": 1.15,
    "front_compression": 0.88,
    "rear_rebound": 0.90,
    "rear_compression": 1.10,
    "friction": 1.30,
    "tyre_stiffness": 1.06,
    "centre_height": 1.02,
    "pitch_inertia": 1.08,
    "roll_inertia": 0.95,
}
ROUGHNESS = {"fast gravel": 1.3, "forest track": 0.8}
SEEDS = (411, 412)  # of noise; the surface is the same for every pass
PACE = (1.0, 1.02)  # speed of each lap over the section's
SURFACE = 8_231
RATES = {"seat": 500.0, "hub": 250.0, "body": 250.0, "damper": 250.0, "roll": 250.0, "pitch": 250.0, "gps": 10.0}
DAMPERS_LATE = 0.036  # [s]
STANDS = 6.0  # before it drives off [s]
BETWEEN = 160.0  # from section to section [m]
LATITUDE, LONGITUDE = np.deg2rad(0.10320), np.deg2rad(-32.41875)  # open sea: no real road


@dataclass(frozen=True)
class Sensor:
    """Title, what one unit is in SI, noise and resolution in that unit, range."""

    title: str
    unit: float
    noise: float
    digits: int
    most: float


G = 9.80665
SENSORS = {
    **{f"seat_{a}": Sensor(f"Seat {a.upper()} [g]", G, 0.004, 3, 2.0) for a in "xyz"},
    **{
        f"hub_{w}": Sensor(f"Hub {t} [g]", G, 0.05, 2, 16.0)
        for w, t in zip(("front_left", "front_right", "rear_left", "rear_right"), ("FL", "FR", "RL", "RR"), strict=True)
    },
    **{
        f"body_{w}": Sensor(f"Body {t} [g]", G, 0.01, 3, 6.0)
        for w, t in zip(("front_left", "front_right", "rear_left", "rear_right"), ("FL", "FR", "RL", "RR"), strict=True)
    },
    **{
        f"damper_{w}": Sensor(f"Pot {t} [mm]", -1e-3, 0.10, 1, 400.0)  # the wire pulls out in droop
        for w, t in zip(("front_left", "front_right", "rear_left", "rear_right"), ("FL", "FR", "RL", "RR"), strict=True)
    },
    "roll_rate": Sensor("Roll rate [deg/s]", np.pi / 180.0, 0.05, 2, 200.0),
    "pitch_rate": Sensor("Pitch rate [deg/s]", np.pi / 180.0, 0.05, 2, 200.0),
}


def drives(pace: float) -> tuple[dict[str, dict[str, np.ndarray]], dict[str, float], dict[str, float]]:
    """Return the hidden vehicle's channels by section, its dampers at rest, and the speeds of the sections."""
    job = open_job(str(files("tussock") / "data/tarn/programme.yaml"))
    vehicle = model.vehicle(job, SETUP)
    chosen = tuple(replace(s, speed=pace * s.speed) for s in loop.sections(job) if s.name in SECTIONS)
    seat = np.asarray(loop.points(job).seat) - np.asarray(vehicle.body.centre)
    plan = Plan(
        vehicle=vehicle,
        sections=chosen,
        body=usual_places(vehicle),
        seat=(float(seat[0]), float(seat[1]), float(seat[2])),
        track=0.5 * (parts.track(job, "front") + parts.track(job, "rear")),
    )
    factors = HIDDEN | {f"roughness of {k}": v for k, v in ROUGHNESS.items()}
    got = drive(plan, factors, seed=SURFACE)
    hidden = changed(vehicle, HIDDEN)
    sensors = Sensors(vehicle=hidden, rest=settle(hidden), body=plan.body, seat=plan.seat)
    return (
        {s.name: channels for s, channels in zip(chosen, got, strict=True)},
        sensors.rest_channels,
        {s.name: s.speed for s in chosen},
    )


def lap(number: int, rng: np.random.Generator) -> tuple[dict[str, tuple[np.ndarray, np.ndarray]], list[str]]:
    """Return one lap's channels as stamps and values in SI, and the gates that its sections have."""
    by_section, rest, speeds = drives(PACE[number])
    fine = 0.004
    whole: dict[str, list[np.ndarray]] = {k: [] for k in SENSORS}
    place, speed = [], []
    at, gates = 0.0, []
    still = round(STANDS / fine)

    def stand(count: int, moving: float) -> None:
        nonlocal at
        for key, values in whole.items():
            values.append(np.full(count, rest.get(key, 0.0)))
        place.append(at + moving * fine * np.arange(count))
        speed.append(np.full(count, moving))
        at += moving * fine * count

    stand(still, 0.0)
    for name in SECTIONS:
        pace = speeds[name]
        stand(round(BETWEEN / (pace * fine)), pace)
        channels = by_section[name]
        count = channels["seat_z"].size
        for key, values in whole.items():
            values.append(channels[key])
        gates.append(f"{name}: {_gate(at)} to {_gate(at + pace * fine * count)}")
        place.append(at + pace * fine * np.arange(count))
        speed.append(np.full(count, pace))
        at += pace * fine * count
    stand(round(BETWEEN / (speeds[SECTIONS[-1]] * fine)), speeds[SECTIONS[-1]])
    t = fine * np.arange(sum(p.size for p in place))
    out = {}
    for key, values in whole.items():
        rate = RATES[key.split("_")[0]]
        stamps = np.arange(0.0, t[-1], 1.0 / rate)
        late = DAMPERS_LATE if key.startswith("damper") else 0.0
        curve = CubicSpline(t, np.concatenate(values))
        out[key] = (stamps, curve(np.clip(stamps - late, 0.0, t[-1])) + (G if key == "seat_z" else 0.0))
    stamps = np.arange(0.0, t[-1], 1.0 / RATES["gps"])
    north = np.interp(stamps, t, np.concatenate(place)) + 0.4 * rng.standard_normal(stamps.size)
    east = 0.4 * rng.standard_normal(stamps.size)
    out["speed"] = (stamps, np.interp(stamps, t, np.concatenate(speed)) + 0.03 * rng.standard_normal(stamps.size))
    out["latitude"] = (stamps, LATITUDE + north / EARTH)
    out["longitude"] = (stamps, LONGITUDE + east / (EARTH * np.cos(LATITUDE)))
    return out, gates


def _gate(north: float) -> str:
    return f"{np.rad2deg(LATITUDE + north / EARTH):.6f} deg, {np.rad2deg(LONGITUDE):.6f} deg"


def spoil(number: int, key: str, values: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Return a channel as its sensor writes it: with noise, in its resolution and range, and with its own faults."""
    s = SENSORS[key]
    v = values / s.unit + s.noise * rng.standard_normal(values.size)
    if key == "hub_rear_left":
        at = rng.integers(0, v.size, 12)
        v[at] = 15.9 * rng.choice([-1.0, 1.0], 12)  # a loose plug
    v = np.round(np.clip(v, -s.most, s.most), s.digits)
    if number == 1 and key == "body_front_right":
        v[v.size // 3 :] = v[v.size // 3]  # the cable came off
    return v


def main(folder: Path) -> None:
    """Write both laps and say what the programme should hold of them."""
    folder.mkdir(parents=True, exist_ok=True)
    for number, seed in enumerate(SEEDS):
        rng = np.random.default_rng(seed)
        channels, gates = lap(number, rng)
        columns: dict[int, dict[str, str]] = {}
        titles = ["Time [s]", "Speed [km/h]", "Lat [deg]", "Lon [deg]", *(s.title for s in SENSORS.values())]
        for key, (stamps, values) in channels.items():
            if key in SENSORS:
                title, written = SENSORS[key].title, spoil(number, key, values, rng)
                digits = SENSORS[key].digits
            else:
                title, factor, digits = {
                    "speed": ("Speed [km/h]", 3.6, 1),
                    "latitude": ("Lat [deg]", 180.0 / np.pi, 7),
                    "longitude": ("Lon [deg]", 180.0 / np.pi, 7),
                }[key]
                written = factor * values
            gap = number == 0 and key.startswith("damper")
            for t, v in zip(stamps, written, strict=True):
                if gap and 30.0 < t < 30.016:
                    continue  # a short loss of the radio link
                columns.setdefault(round(1e4 * t), {})[title] = f"{v:.{digits}f}"
        lines = ["# invented: written by tools/make_tarn_logger.py", ",".join(titles)]
        lines += [
            ",".join([f"{at * 1e-4:.3f}", *(columns[at].get(title, "") for title in titles[1:])])
            for at in sorted(columns)
        ]
        text = "\n".join(lines) + "\n"
        place = folder / f"b3-lap{number + 1}.csv.gz"
        with place.open("wb") as raw, gzip.GzipFile(fileobj=raw, mode="wb", mtime=0, filename="") as packed:
            packed.write(text.encode())
        print(f"{place}: {len(text) / 1e6:.1f} MB, packed {place.stat().st_size / 1e6:.2f} MB")
        print("\n".join(gates))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(str(files("tussock") / "data/tarn/logger")))
