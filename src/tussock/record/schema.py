"""The JSON Schema of a programme, made from the models."""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from tussock.record.base import Frozen
from tussock.record.discs import DiscLine, Holes
from tussock.record.fields import CurvePoint, Point
from tussock.record.programme import FORMAT, Programme
from tussock.record.units import Quantity


class _AsWritten(GenerateJsonSchema):
    """Shows defaults as people write them."""

    def encode_default(self, dft: Any) -> Any:
        if isinstance(dft, Quantity | Point | CurvePoint | DiscLine | Holes):
            return str(dft)
        return super().encode_default(dft.model_dump(mode="json") if isinstance(dft, Frozen) else dft)


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a programme document, read as plain YAML.

    Checks between fields (references, order of heights, zero lengths) are not in it; `tussock.record.load` makes them.
    """
    schema = Programme.model_json_schema(by_alias=True, mode="validation", schema_generator=_AsWritten)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Programme of a suspension kit, document format {FORMAT}",
        **{key: value for key, value in schema.items() if key != "title"},
    }
