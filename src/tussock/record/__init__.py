"""The programme: what was measured, decided and logged. No physics."""

from tussock.record.fields import CurvePoint, Point
from tussock.record.load import Loaded, load, loads
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.programme import FORMAT, Programme
from tussock.record.save import dump, save, with_field
from tussock.record.schema import json_schema
from tussock.record.units import Quantity, parse

__all__ = [
    "FORMAT",
    "CurvePoint",
    "Loaded",
    "Point",
    "Problem",
    "Programme",
    "ProgrammeError",
    "Quantity",
    "dump",
    "json_schema",
    "load",
    "loads",
    "parse",
    "save",
    "with_field",
]
