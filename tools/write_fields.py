"""Write `docs/programme-fields.md` from the programme's JSON Schema: `python tools/write_fields.py`."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from tussock.record import json_schema

PAGE = Path(__file__).parents[1] / "docs" / "programme-fields.md"
HEAD = """# Fields of a programme

Written by `python tools/write_fields.py` from the programme's JSON Schema; how a programme is put together stands in
[the programme](programme.md).
A field in **bold** must be given. 'As in' shows how it is written, not a value to take.
'Front, rear' means `{front: ..., rear: ...}`; 'by name' means names of your own.
"""


def page() -> str:
    """Return the page: the document, then its parts in the order in which they are met."""
    schema = json_schema()
    parts: dict[str, Any] = schema["$defs"]
    order: list[str] = []
    _walk(schema, parts, order)
    told = [HEAD, _part("The document", schema, parts)]
    told += [_part(_words(name), parts[name], parts) for name in order if "FrontRear" not in name]
    return "\n".join(told)


def _walk(node: Any, parts: dict[str, Any], order: list[str]) -> None:
    if isinstance(node, list):
        for one in node:
            _walk(one, parts, order)
    elif isinstance(node, dict):
        name = str(node.get("$ref", "")).rpartition("/")[2]
        if name and name not in order:
            order.append(name)
            _walk(parts[name], parts, order)
        for key, value in node.items():
            if key != "$defs":
                _walk(value, parts, order)


def _words(name: str) -> str:
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name).capitalize()


def _part(title: str, schema: dict[str, Any], parts: dict[str, Any]) -> str:
    about = " ".join(str(schema.get("description", "")).split())
    needed = set(schema.get("required", ()))
    rows = []
    for name, field in schema["properties"].items():
        shown = f"**`{name}`**" if name in needed else f"`{name}`"
        told = " ".join(str(field.get("description", "")).split())
        rows.append(f"| {shown} | {_kind(field, parts)} | {told} |")
    return "\n".join([f"## {title}", "", about, "", "| field | is | meaning |", "| --- | --- | --- |", *rows, ""])


def _kind(field: dict[str, Any], parts: dict[str, Any]) -> str:
    """Return in a few words what a field takes."""
    if "const" in field:
        return f"`{field['const']}`"
    if "enum" in field:
        return ", ".join(f"`{word}`" for word in field["enum"])
    if field.get("examples"):
        return f"as in `{field['examples'][0]}`"
    if "$ref" in field:
        name = field["$ref"].rpartition("/")[2]
        if "FrontRear" in name:
            return f"front, rear: {_kind(parts[name]['properties']['front'], parts)}"
        return f"[{_words(name).lower()}](#{_words(name).lower().replace(' ', '-')})"
    for key in ("anyOf", "oneOf"):
        if key in field:
            several = [_kind(one, parts) for one in field[key] if one.get("type") != "null"]
            return " or ".join(dict.fromkeys(several))
    if field.get("type") == "array" and "items" in field:
        return f"list of {_kind(field['items'], parts)}"
    names = [*field.get("patternProperties", {}).values()]
    if isinstance(field.get("additionalProperties"), dict):
        names.append(field["additionalProperties"])
    if names:
        return f"by name: {_kind(names[0], parts)}"
    plain = {"string": "words", "integer": "a whole number", "number": "a number", "boolean": "`true` or `false`"}
    return plain.get(str(field.get("type")), "")


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
