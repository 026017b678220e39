"""The published JSON Schema, checked by an independent validator."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import jsonschema
import pytest

from tussock.record import json_schema
from tussock.record.tree import read_tree


@pytest.fixture(scope="module")
def validator() -> Any:
    return jsonschema.Draft202012Validator(json_schema())


def test_the_schema_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())
    assert json.loads(json.dumps(json_schema())) == json_schema()


def test_the_demo_is_valid_as_plain_yaml(validator: Any, tarn_text: str) -> None:
    assert [e.message for e in validator.iter_errors(read_tree(tarn_text, name="tarn").data)] == []


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("wheelbase: 2700 mm +- 3 mm", "wheelbase: 2700"),
        ("wheelbase: 2700 mm +- 3 mm", "wheelbse: 2700 mm"),
        ("spring_axle: 4, 462, 432 mm", "spring_axle: 4, 462 mm"),
        ("kind: joint, joint", "kind: joynt, joint"),
        ("format: 1", "format: 2"),
        ("class: B", "class: Z"),
    ],
)
def test_the_schema_refuses_what_it_can(validator: Any, tarn_text: str, old: str, new: str) -> None:
    assert not validator.is_valid(read_tree(tarn_text.replace(old, new, 1), name="tarn").data)


def nodes(schema: Any) -> Iterator[dict[str, Any]]:
    if isinstance(schema, dict):
        yield schema
        for value in schema.values():
            yield from nodes(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from nodes(value)


def test_every_field_says_what_it_is() -> None:
    silent = [
        name
        for node in nodes(json_schema())
        for name, field in node.get("properties", {}).items()
        if "description" not in field and name not in ("x", "y", "z")
    ]
    assert silent == []


def test_examples_and_defaults_fit_their_own_fields() -> None:
    schema = json_schema()
    shown = [node for node in nodes(schema) if "examples" in node or "default" in node]
    assert len(shown) > 50
    for node in shown:
        one = jsonschema.Draft202012Validator({**node, "$defs": schema["$defs"]})
        values = [*node.get("examples", []), *([node["default"]] if node.get("default") is not None else [])]
        assert [e.message for value in values for e in one.iter_errors(value)] == []
