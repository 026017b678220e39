"""The programme: what was measured, decided and logged. No physics."""

from tussock.record.differences import Difference, differences
from tussock.record.edit import field_problems, field_text, set_field
from tussock.record.fields import CurvePoint, Point
from tussock.record.load import Loaded, load, loads
from tussock.record.merge import Clash, Merged, merge
from tussock.record.problems import Problem, ProgrammeError
from tussock.record.programme import FORMAT, Programme
from tussock.record.save import dump, save, with_field, with_fields
from tussock.record.schema import json_schema
from tussock.record.units import Quantity, parse

__all__ = [
    "FORMAT",
    "Clash",
    "CurvePoint",
    "Difference",
    "Loaded",
    "Merged",
    "Point",
    "Problem",
    "Programme",
    "ProgrammeError",
    "Quantity",
    "differences",
    "dump",
    "field_problems",
    "field_text",
    "json_schema",
    "load",
    "loads",
    "merge",
    "parse",
    "save",
    "set_field",
    "with_field",
    "with_fields",
]
