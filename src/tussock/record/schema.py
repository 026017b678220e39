"""The JSON Schema of a programme, made from the models."""

from __future__ import annotations

from typing import Any

from tussock.record.programme import FORMAT, Programme


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a programme document, read as plain YAML.

    Checks between fields (references, order of heights, zero lengths) are not in it; `tussock.record.load` makes them.
    """
    schema = Programme.model_json_schema(by_alias=True, mode="validation")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Programme of a suspension kit, document format {FORMAT}",
        **{key: value for key, value in schema.items() if key != "title"},
    }
