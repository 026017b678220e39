"""Published limits on lift and headlamp aim: a table with its sources, read from the package's data."""

from __future__ import annotations

import functools
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from tussock.errors import InputError


@dataclass(frozen=True, kw_only=True, slots=True)
class HeightLimit:
    """Greatest height over ground for a gross mass up to a bound: [kg], front and rear [m]."""

    gross_mass: float
    front: float
    rear: float


@dataclass(frozen=True, kw_only=True, slots=True)
class LiftRule:
    """One published limit.

    Attributes
    ----------
    key, jurisdiction, source, date, confidence, note : str
        Where it stands and how far its text was seen (checked, secondary, memory).
    lift : float or None
        Lift without certification [m]; None where the text gives no figure.
    travel_kept : float or None
        Share of the original travel that must be left each way [-].
    measured_at : str
        "bumper", "frame" or "body" where the rule limits a height over ground; "" where it does not.
    greatest : tuple of HeightLimit
        Greatest heights, by gross mass, the lightest first.
    least : float or None
        Least height there [m].
    """

    key: str
    jurisdiction: str
    source: str
    date: str
    confidence: str
    note: str
    lift: float | None
    travel_kept: float | None
    measured_at: str = ""
    greatest: tuple[HeightLimit, ...] = ()
    least: float | None = None

    def limit_for(self, gross_mass: float) -> HeightLimit | None:
        """Return the heights for a vehicle of a gross mass [kg]; None where the rule ends below it."""
        return next((h for h in self.greatest if gross_mass <= h.gross_mass), None)


@dataclass(frozen=True, kw_only=True, slots=True)
class LampBand:
    """Permitted inclination of the dipped beam for lamps below a height [m]: least and most [-], down is negative."""

    below: float
    least: float
    most: float


@functools.cache
def _table() -> dict[str, Any]:
    from ruamel.yaml import YAML

    text = files("tussock").joinpath("data/rules.yaml").read_text(encoding="utf-8")
    table: dict[str, Any] = YAML(typ="safe").load(text)
    return table


_UNITS = {"mm": 1e-3, "m": 1.0, "in": 0.0254, "kg": 1.0, "lb": 0.45359237}


def _si(text: str | None) -> float | None:
    if text is None:
        return None
    value, unit = text.split()
    return float(value) * _UNITS[unit]


def lift_rule(key: str) -> LiftRule:
    """Return a rule by its name; InputError that lists the known ones."""
    rules = _table()["rules"]
    if key not in rules:
        raise InputError(f"there is no rule {key!r} in the rule table; known are {', '.join(rules)}")
    row = rules[key]
    return LiftRule(
        key=key,
        jurisdiction=row["jurisdiction"],
        source=row["source"],
        date=str(row["date"] or "undated"),
        confidence=row["confidence"],
        note=row["note"],
        lift=_si(row["lift_without_certification"]),
        travel_kept=row["travel_kept"],
        measured_at=row.get("measured_at", ""),
        greatest=tuple(
            HeightLimit(
                gross_mass=_si(h["gross_mass_to"]) or 0.0, front=_si(h["front"]) or 0.0, rear=_si(h["rear"]) or 0.0
            )
            for h in row.get("greatest", ())
        ),
        least=_si(row.get("least")),
    )


def rule_keys() -> tuple[str, ...]:
    """Return the names of every rule in the table."""
    return tuple(_table()["rules"])


def lamp_band(height: float) -> LampBand | None:
    """Return the band of inclination for a lamp's lower edge at `height` [m], None above the table."""
    for row in _table()["headlamp"]["bands"]:
        below = _si(row["below"])
        if below is not None and height < below:
            least, most = (float(row[k].split()[0]) / 100.0 for k in ("least", "most"))
            return LampBand(below=below, least=least, most=most)
    return None


def lamp_source() -> str:
    """Return where the headlamp bands come from."""
    return str(_table()["headlamp"]["source"])
