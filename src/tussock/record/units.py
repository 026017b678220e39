"""Quantities at the edge: "28 N/mm" or "612 mm +- 2 mm" in, SI floats out.

Common units come from a table of our own, which a test holds equal to Pint's factors; Pint is asked, and only then
imported, for any other unit. Angles are a dimension of their own here, so that a torque (N m) is not taken for a
rotational stiffness (N m/rad).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, TypeAlias

from tussock.errors import InputError

Exponents: TypeAlias = tuple[int, int, int, int]
"""Powers of mass, length, time and angle."""

LONGEST = 120  # characters of a quantity; longer text is no measurement


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """What a quantity measures: its name in words, powers, SI unit and the units people write, likeliest first."""

    words: str
    exponents: Exponents
    si_unit: str
    units: tuple[str, ...]
    bare: bool = False
    """A number without a unit is allowed."""


DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension(words="a length", exponents=(0, 1, 0, 0), si_unit="m", units=("mm", "m", "cm", "in")),
    "mass": Dimension(words="a mass", exponents=(1, 0, 0, 0), si_unit="kg", units=("kg", "t", "g", "lb")),
    "force": Dimension(words="a force", exponents=(1, 1, -2, 0), si_unit="N", units=("N", "kN", "lbf")),
    "torque": Dimension(words="a torque", exponents=(1, 2, -2, 0), si_unit="N m", units=("N m", "kN m")),
    "rate": Dimension(
        words="a rate (force per length)",
        exponents=(1, 0, -2, 0),
        si_unit="N/m",
        units=("N/mm", "kN/mm", "N/m", "kN/m", "lbf/in"),
    ),
    "damping": Dimension(
        words="a damping (force per speed)", exponents=(1, 0, -1, 0), si_unit="N s/m", units=("N s/m", "kN s/m")
    ),
    "angle": Dimension(words="an angle", exponents=(0, 0, 0, 1), si_unit="rad", units=("deg", "rad")),
    "angular_rate": Dimension(
        words="a rotational stiffness (torque per angle)",
        exponents=(1, 2, -2, -1),
        si_unit="N m/rad",
        units=("N m/deg", "N m/rad", "kN m/rad"),
    ),
    "turning_speed": Dimension(
        words="an angle per time", exponents=(0, 0, -1, 1), si_unit="rad/s", units=("deg/s", "rad/s")
    ),
    "side_stiffness": Dimension(
        words="a side stiffness (force per angle)",
        exponents=(1, 1, -2, -1),
        si_unit="N/rad",
        units=("kN/rad", "N/deg", "kN/deg", "N/rad"),
    ),
    "pressure": Dimension(
        words="a pressure", exponents=(1, -1, -2, 0), si_unit="Pa", units=("bar", "psi", "kPa", "MPa", "Pa")
    ),
    "frequency": Dimension(words="a frequency", exponents=(0, 0, -1, 0), si_unit="Hz", units=("Hz",)),
    "speed": Dimension(words="a speed", exponents=(0, 1, -1, 0), si_unit="m/s", units=("km/h", "m/s", "mph")),
    "acceleration": Dimension(words="an acceleration", exponents=(0, 1, -2, 0), si_unit="m/s^2", units=("m/s^2", "g")),
    "load_factor": Dimension(words="a multiple of the static load", exponents=(0, 0, 0, 0), si_unit="g", units=("g",)),
    "inertia": Dimension(words="a moment of inertia", exponents=(1, 2, 0, 0), si_unit="kg m^2", units=("kg m^2",)),
    "time": Dimension(words="a time", exponents=(0, 0, 1, 0), si_unit="s", units=("s", "ms", "min")),
    "volume": Dimension(words="a volume", exponents=(0, 3, 0, 0), si_unit="m^3", units=("cm^3", "l", "m^3")),
    "area": Dimension(words="an area", exponents=(0, 2, 0, 0), si_unit="m^2", units=("mm^2", "cm^2", "m^2")),
    "viscosity": Dimension(
        words="a kinematic viscosity", exponents=(0, 2, -1, 0), si_unit="m^2/s", units=("mm^2/s", "cSt", "m^2/s")
    ),
    "mass_density": Dimension(
        words="a density (mass per volume)", exponents=(1, -3, 0, 0), si_unit="kg/m^3", units=("kg/m^3", "g/cm^3")
    ),
    "temperature": Dimension(words="a temperature", exponents=(0, 0, 0, 0), si_unit="K", units=("degC", "K")),
    "density": Dimension(
        words="a displacement spectral density",
        exponents=(0, 3, 0, 0),
        si_unit="m^3",
        units=("m^3", "mm^2 m", "cm^3"),
    ),
    "slope": Dimension(words="a slope", exponents=(0, 0, 0, 0), si_unit="1", units=("%", "mm/m")),
    "ratio": Dimension(words="a plain number", exponents=(0, 0, 0, 0), si_unit="1", units=("", "%"), bare=True),
}

_STANDARD_GRAVITY = 9.80665  # m/s^2, exact by definition (CGPM 1901)
_DEGREE = math.pi / 180.0
_CELSIUS = ("degC", "C")
_ZERO_CELSIUS = 273.15  # K, exact by definition

#: Units that people write: factor to SI and powers. Each must equal what Pint gives (tested).
COMMON: dict[str, tuple[float, Exponents]] = {
    "mm": (1e-3, (0, 1, 0, 0)),
    "cm": (1e-2, (0, 1, 0, 0)),
    "m": (1.0, (0, 1, 0, 0)),
    "km": (1e3, (0, 1, 0, 0)),
    "in": (0.0254, (0, 1, 0, 0)),
    "g": (1e-3, (1, 0, 0, 0)),
    "kg": (1.0, (1, 0, 0, 0)),
    "t": (1e3, (1, 0, 0, 0)),
    "N": (1.0, (1, 1, -2, 0)),
    "kN": (1e3, (1, 1, -2, 0)),
    "N m": (1.0, (1, 2, -2, 0)),
    "N/m": (1.0, (1, 0, -2, 0)),
    "N/mm": (1e3, (1, 0, -2, 0)),
    "kN/mm": (1e6, (1, 0, -2, 0)),
    "kN/m": (1e3, (1, 0, -2, 0)),
    "N s/m": (1.0, (1, 0, -1, 0)),
    "kN s/m": (1e3, (1, 0, -1, 0)),
    "rad": (1.0, (0, 0, 0, 1)),
    "deg": (_DEGREE, (0, 0, 0, 1)),
    "deg/s": (_DEGREE, (0, 0, -1, 1)),
    "rad/s": (1.0, (0, 0, -1, 1)),
    "N m/deg": (1.0 / _DEGREE, (1, 2, -2, -1)),
    "N m/rad": (1.0, (1, 2, -2, -1)),
    "kN/rad": (1e3, (1, 1, -2, -1)),
    "N/rad": (1.0, (1, 1, -2, -1)),
    "N/deg": (1.0 / _DEGREE, (1, 1, -2, -1)),
    "Pa": (1.0, (1, -1, -2, 0)),
    "kPa": (1e3, (1, -1, -2, 0)),
    "MPa": (1e6, (1, -1, -2, 0)),
    "GPa": (1e9, (1, -1, -2, 0)),
    "bar": (1e5, (1, -1, -2, 0)),
    "Hz": (1.0, (0, 0, -1, 0)),
    "s": (1.0, (0, 0, 1, 0)),
    "ms": (1e-3, (0, 0, 1, 0)),
    "m/s": (1.0, (0, 1, -1, 0)),
    "km/h": (1e3 / 3600.0, (0, 1, -1, 0)),
    "m/s^2": (1.0, (0, 1, -2, 0)),
    "kg m^2": (1.0, (1, 2, 0, 0)),
    "m^3": (1.0, (0, 3, 0, 0)),
    "mm^2": (1e-6, (0, 2, 0, 0)),
    "m^2": (1.0, (0, 2, 0, 0)),
    "cm^3": (1e-6, (0, 3, 0, 0)),
    "l": (1e-3, (0, 3, 0, 0)),
    "mm^2/s": (1e-6, (0, 2, -1, 0)),
    "kg/m^3": (1.0, (1, -3, 0, 0)),
    "%": (1e-2, (0, 0, 0, 0)),
    "mm/m": (1e-3, (0, 0, 0, 0)),
}

NUMBER = r"[+\-−]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_UNIT = r"[A-Za-z%°µ][A-Za-z%°µ0-9²³·*/^() _\-−]*?"
_QUANTITY = re.compile(
    rf"\s*(?P<value>{NUMBER})\s*(?P<unit>{_UNIT})?\s*"
    rf"(?:(?:\+\s?/?\s?[-−]|±)\s*(?P<spread>{NUMBER})\s*(?P<spread_unit>{_UNIT})?\s*)?"
)
# What may be handed on to Pint: names with a small whole power, so that no text can make it compute for long.
_SAFE_UNIT = re.compile(r"[ */()]*(?:[A-Za-z%°µ_]+(?:(?:\^|\*\*)-?\d)?(?:[ */()]+|$))+")


class QuantityError(InputError):
    """A text is not the quantity that was wanted; `example` shows one that is.

    Attributes
    ----------
    wrong : str
        What is wrong, in words.
    example : str
        A text that would be right.
    """

    def __init__(self, wrong: str, example: str) -> None:
        super().__init__(f"{wrong}; write for example {example!r}")
        self.wrong = wrong
        self.example = example


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A measured or chosen value as it was written, and in SI.

    Attributes
    ----------
    si : float
        Value in the SI unit of its field.
    spread : float
        What follows `+-`, in SI; 0 where nothing does.
    text : str
        As written.
    unit : str
        Unit as written; "" for a plain number.
    """

    si: float
    spread: float = 0.0
    text: str
    unit: str = ""

    def __float__(self) -> float:
        return self.si

    def __str__(self) -> str:
        return self.text


@cache
def _registry() -> Any:
    import pint  # late: most documents never need it

    return pint.UnitRegistry(cache_folder=None)


def _tidy(unit: str) -> str:
    unit = unit.replace("·", " ").replace("²", "^2").replace("³", "^3").replace("°", "deg").replace("−", "-")
    return " ".join(unit.replace("**", "^").split())


@cache
def _pint_unit(unit: str) -> tuple[float, Exponents] | None:
    """Factor to SI and powers by Pint; None for an unknown unit or one with powers that we do not use."""
    if len(unit) > 40 or not _SAFE_UNIT.fullmatch(unit):
        return None
    registry = _registry()
    try:
        parsed = registry.parse_units(unit.replace("^", "**"))
        factor, base = registry.get_base_units(parsed)
    except Exception:  # Pint raises many kinds, also of the tokenizer, for text that is no unit
        return None
    known = ("kilogram", "meter", "second", "radian")
    powers = dict(base._units.items())
    if factor is None or not set(powers) <= set(known) or any(p != int(p) for p in powers.values()):
        return None
    mass, length, time, angle = (int(powers.get(name, 0)) for name in known)
    return float(factor), (mass, length, time, angle)


def unit_factor(unit: str, dimension: str) -> float | None:
    """Return the factor from `unit` to the SI unit of `dimension`, or None if it is no unit of it.

    >>> unit_factor("N/mm", "rate")
    1000.0
    >>> unit_factor("g", "mass"), unit_factor("g", "load_factor"), unit_factor("g", "acceleration")
    (0.001, 1.0, 9.80665)
    """
    wanted = DIMENSIONS[dimension]
    unit = _tidy(unit)
    if dimension == "load_factor":
        return 1.0 if unit == "g" else None
    if dimension == "acceleration" and unit == "g":
        return _STANDARD_GRAVITY
    if dimension == "temperature":
        return 1.0 if unit in ("K", *_CELSIUS) else None
    found = COMMON.get(unit) or (_pint_unit(unit) if unit else None)
    if unit == "":
        return 1.0 if wanted.bare else None
    return found[0] if found is not None and found[1] == wanted.exponents else None


def _describe(unit: str) -> str:
    """Say what dimension a unit has, in words."""
    unit = _tidy(unit)
    found = COMMON.get(unit) or _pint_unit(unit)
    if found is None:
        return ""
    for dimension in DIMENSIONS.values():
        if dimension.exponents == found[1]:
            return dimension.words
    return "a measure of something else"


def parse(text: str, dimension: str, *, example: str) -> Quantity:
    """Read a quantity of a known dimension.

    Parameters
    ----------
    text : str
        A number, its unit and perhaps `+-` with a second number (in the same unit if it names none; also in %).
    dimension : str
        Name of a dimension in `DIMENSIONS`.
    example : str
        What to show when the text is wrong.

    Returns
    -------
    Quantity
        In the SI unit of the dimension.

    Raises
    ------
    QuantityError
        No number, no unit, an unknown unit, the wrong dimension, not finite, or a negative spread.

    Examples
    --------
    >>> parse("612 mm +- 2 mm", "length", example="95 mm").si
    0.612
    >>> parse("21.5 N/mm +- 3 %", "rate", example="28 N/mm").spread
    645.0
    """
    if len(text) > LONGEST:
        raise QuantityError(f"{len(text)} characters are no quantity", example)
    return _parsed(text, dimension, example)


@lru_cache(maxsize=8192)  # after an edit all but one of a programme's thousand quantities are read again as they were
def _parsed(text: str, dimension: str, example: str) -> Quantity:
    wanted = DIMENSIONS[dimension]
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise QuantityError(_why_no_match(text, wanted), example)
    unit = (match["unit"] or "").strip()
    spread_text, spread_unit = match["spread"], (match["spread_unit"] or "").strip()
    if not unit and spread_unit and spread_unit != "%":
        unit = spread_unit  # 612 +- 2 mm
    factor = _factor(unit, dimension, text, example)
    value = _to_si(_number(match["value"]), factor)
    if dimension == "temperature" and _tidy(unit) in _CELSIUS:
        value += _ZERO_CELSIUS
    spread = 0.0
    if spread_text is not None:
        spread = _number(spread_text)
        if spread_unit == "%" and _tidy(unit) != "%":
            spread *= abs(value) / 100.0
        else:
            spread = _to_si(spread, factor if not spread_unit else _factor(spread_unit, dimension, text, example))
        if not spread >= 0.0:
            raise QuantityError(f"{text!r}: the spread after +- is negative", example)
    if not (math.isfinite(value) and math.isfinite(spread)):
        raise QuantityError(f"{text!r} is not a finite number", example)
    return Quantity(si=value, spread=spread, text=text.strip(), unit=unit)


def _number(text: str) -> float:
    return float(text.replace("−", "-"))


def _to_si(number: float, factor: float) -> float:
    """Return number times factor; by division where the factor is a whole part, which rounds once."""
    if 1e-12 < factor < 1.0 and 1.0 / round(1.0 / factor) == factor:
        return number / round(1.0 / factor)
    return number * factor


def _factor(unit: str, dimension: str, text: str, example: str) -> float:
    factor = unit_factor(unit, dimension)
    if factor is not None:
        return factor
    wanted = DIMENSIONS[dimension]
    if not unit:
        raise QuantityError(f"{text.strip()!r} has no unit; wanted {wanted.words}", example)
    is_a = _describe(unit)
    if not is_a:
        hint = f" (did you mean {_spread_out(unit)!r}?)" if _spread_out(unit) else ""
        raise QuantityError(f"unknown unit {unit!r}{hint}; wanted {wanted.words}", example)
    apart = _spread_out(unit)
    hint = f"; did you mean {apart!r}?" if apart and unit_factor(apart, dimension) is not None else ""
    if re.search(r"\b(?:kg|lb)\b", unit) and wanted.exponents[2] == -2:
        hint = "; kg and lb are masses, write kgf or lbf for a force"
    raise QuantityError(f"{unit!r} is {is_a}, wanted {wanted.words}{hint}", example)


def _spread_out(unit: str) -> str:
    """Return `unit` with a space in products that were run together (Nm, Ns/m, kgm^2), or "" if that does not help."""
    for run_together, apart in (("Nm", "N m"), ("Ns", "N s"), ("kgm", "kg m"), ("kg.m", "kg m"), ("N.m", "N m")):
        if run_together in unit and _describe(unit.replace(run_together, apart)):
            return unit.replace(run_together, apart)
    return next((known for known in COMMON if known != unit and known.lower() == _tidy(unit).lower()), "")


def _why_no_match(text: str, wanted: Dimension) -> str:
    bare = text.strip()
    if not bare:
        return f"empty; wanted {wanted.words}"
    if re.fullmatch(r"[+-]?\.?(?:nan|inf(?:inity)?)\b.*", bare, re.IGNORECASE):
        return f"{bare!r} is not a finite number; wanted {wanted.words}"
    if re.match(r"[+\-−]?\d+,\d+", bare):
        return f"{bare!r} has a decimal comma; write a point"
    return f"{bare!r} is not a number with a unit; wanted {wanted.words}"
