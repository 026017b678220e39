"""How a figure is shown: one table of kinds, used by every face of a Result.

A kind names what a number is; the number itself stays in SI. The table gives the SI unit (written to JSON), the unit
that people read, the factor between the two and the sensible digits.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

MINUS = "−"  # a true minus sign


@dataclass(frozen=True, slots=True)
class Kind:
    """What a number is: SI unit, unit shown, factor from SI to shown, digits after the point, zero shown."""

    si_unit: str
    unit: str
    factor: float
    digits: int
    zero: float = 0.0  # SI value that the unit shown calls 0


_DEG = 180.0 / math.pi

KINDS: dict[str, Kind] = {
    "length": Kind("m", "mm", 1e3, 0),
    "length_fine": Kind("m", "mm", 1e3, 1),
    "gap": Kind("m", "mm", 1e3, 3),
    "distance": Kind("m", "m", 1.0, 1),
    "road": Kind("m", "km", 1e-3, 1),
    "angle": Kind("rad", "deg", _DEG, 1),
    "angle_fine": Kind("rad", "deg", _DEG, 2),
    "angle_gain": Kind("rad/m", "deg/m", _DEG, 1),
    "roll_gradient": Kind("rad s^2/m", "deg/g", _DEG * 9.80665, 1),
    "understeer": Kind("rad s^2/m", "deg/g", _DEG * 9.80665, 2),
    "per_second": Kind("1/s", "1/s", 1.0, 2),
    "steer_gain": Kind("m/s^2/rad", "m/s² per deg", 1.0 / _DEG, 2),
    "path_gain": Kind("m/N", "mm/N", 1e3, 3),
    "torque_gradient": Kind("N s^2", "N m/g", 9.80665, 1),
    "angle_time": Kind("rad s", "deg s", _DEG, 2),
    "turn_damping": Kind("N m s/rad", "N m s/rad", 1.0, 0),
    "damping_ratio": Kind("1", "", 1.0, 3),
    "inertia_fine": Kind("kg m^2", "kg m²", 1.0, 1),
    "rate": Kind("N/m", "N/mm", 1e-3, 1),
    "roll_rate": Kind("N m/rad", "N m/deg", 1.0 / _DEG, 0),
    "damping": Kind("N s/m", "N s/m", 1.0, 0),
    "frequency": Kind("Hz", "Hz", 1.0, 2),
    "mass": Kind("kg", "kg", 1.0, 0),
    "inertia": Kind("kg m^2", "kg m²", 1.0, 0),
    "force": Kind("N", "N", 1.0, 0),
    "force_k": Kind("N", "kN", 1e-3, 2),
    "stress": Kind("Pa", "MPa", 1e-6, 0),
    "pressure": Kind("Pa", "MPa", 1e-6, 2),
    "volume": Kind("m^3", "cm³", 1e6, 0),
    "area": Kind("m^2", "cm²", 1e4, 0),
    "energy": Kind("J", "J", 1.0, 0),
    "torque": Kind("N m", "N m", 1.0, 1),
    "power": Kind("W", "W", 1.0, 0),
    "speed": Kind("m/s", "km/h", 3.6, 0),
    "velocity": Kind("m/s", "m/s", 1.0, 2),
    "rotation_speed": Kind("rad/s", "deg/s", _DEG, 1),
    "acceleration": Kind("m/s^2", "m/s²", 1.0, 2),
    "vibration_dose": Kind("m/s^1.75", "m/s^1.75", 1.0, 2),
    "time": Kind("s", "s", 1.0, 2),
    "temperature": Kind("K", "°C", 1.0, 0, 273.15),
    "temperature_rise": Kind("K", "K", 1.0, 1),
    "minutes": Kind("s", "min", 1.0 / 60.0, 0),
    "ratio": Kind("1", "", 1.0, 2),
    "share": Kind("1", "%", 1e2, 1),
    "count": Kind("1", "", 1.0, 0),
    "text": Kind("", "", 1.0, 0),
}


def number(value: float, kind: str, *, digits: int | None = None, sign: bool = False) -> str:
    """Write `value` (SI) in the unit people read, without the unit.

    >>> number(-0.0432, "length")
    '−43'
    >>> number(0.035, "length", sign=True)
    '+35'
    """
    rule = KINDS[kind]
    if not math.isfinite(value):
        return "none"
    places = rule.digits if digits is None else digits
    text = f"{(value - rule.zero) * rule.factor:+.{places}f}"
    if float(text) == 0.0:
        text = "+" + text[1:]
    if text[0] == "+" and (not sign or float(text) == 0.0):
        return text[1:]
    return text.replace("-", MINUS)


def show(value: float, kind: str, *, digits: int | None = None, sign: bool = False) -> str:
    """Write `value` (SI) with its unit.

    >>> show(28e3, "rate")
    '28.0 N/mm'
    >>> show(0.125, "share"), show(294.65, "temperature")
    ('12.5 %', '22 °C')
    """
    unit = KINDS[kind].unit
    text = number(value, kind, digits=digits, sign=sign)
    return f"{text} {unit}" if unit else text


_UNITS = "|".join(re.escape(u) for u in sorted({"g", *(k.unit for k in KINDS.values())} - {""}, key=len, reverse=True))
_FIGURE = re.compile(rf"\d{{4}}-\d{{2}}-\d{{2}}|[+−]?\d[\d.,]*(?:\s?(?:{_UNITS})(?![\w/]))?")


def figures(text: str) -> tuple[tuple[str, bool], ...]:
    """Cut a sentence into pieces and say which are figures, so that a face may set them bold.

    >>> figures("The front may rise 43 mm; the brake hose stops it.")
    (('The front may rise ', False), ('43 mm', True), ('; the brake hose stops it.', False))
    >>> figures("A damper of 11 N m s/rad holds it.")[1]
    ('11 N m s/rad', True)
    >>> figures("The last drive was on 2026-10-08.")
    (('The last drive was on ', False), ('2026-10-08', True), ('.', False))
    """
    pieces: list[tuple[str, bool]] = []
    at = 0
    for match in _FIGURE.finditer(text):
        start = match.start()
        if start and (text[start - 1].isalnum() or text[start - 1] in "-_"):
            continue  # B2, ISO-2631: a name, not a figure
        if start > at:
            pieces.append((text[at:start], False))
        pieces.append((match.group().rstrip(".,"), True))
        at = start + len(match.group().rstrip(".,"))
    if at < len(text):
        pieces.append((text[at:], False))
    return tuple(pieces)
