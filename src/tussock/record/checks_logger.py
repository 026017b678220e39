"""Checks of data loggers: units that fit what is measured, recordings of loggers that there are, gates apart."""

from __future__ import annotations

from collections.abc import Iterator

from tussock.record.checks_kit import unknown
from tussock.record.logger import LOGGED
from tussock.record.units import DIMENSIONS, unit_factor
from tussock.record.view import Finding, View


def check_loggers(view: View) -> Iterator[Finding]:
    """Yield what is wrong with loggers and with the recordings that name them."""
    loggers = view.names("loggers")
    for name in loggers:
        for channel in view.names("loggers", name, "channels"):
            dimension = LOGGED.get(channel)
            unit = view.text("loggers", name, "channels", channel, "unit") or ""
            if dimension is None or (channel == "mark" and not unit):
                continue
            if unit_factor(unit, dimension) is None:
                units = DIMENSIONS[dimension].units
                yield Finding(
                    path=("loggers", name, "channels", channel, "unit"),
                    found=repr(unit),
                    wrong=f"{channel} is {DIMENSIONS[dimension].words}; its unit may be {', '.join(units)}",
                    example=units[0],
                )
    for i, _ in view.rows("drives"):
        for j, _ in view.rows("drives", i, "recordings"):
            logger = view.text("drives", i, "recordings", j, "logger")
            if logger is not None and logger not in loggers:
                yield unknown(("drives", i, "recordings", j, "logger"), logger, "logger", loggers)
