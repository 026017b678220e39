"""From Pydantic's errors to problems in the words of the trade: place, what was found, what would be right."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from tussock.record.base import NAME_PATTERN, NAME_WORDS
from tussock.record.corrections import LISTS, WORDS
from tussock.record.discs import DiscRule, HolesRule
from tussock.record.fields import CurveRule, PointRule, QuantityRule, RodLengthRule, kind_of
from tussock.record.problems import Problem
from tussock.record.programme import Programme
from tussock.record.tree import Tree, closest, dotted
from tussock.record.view import Key, Path, View, nearest

_UNION_TYPES = (Union, type(int | str))


def explain(error: ValidationError, tree: Tree, name: str) -> list[Problem]:
    """Turn every error of a validation into a problem with its line."""
    problems: list[Problem] = []
    seen: set[tuple[str, str]] = set()
    faults = error.errors(include_url=False)
    for fault in faults:
        if fault["type"] == "too_short" and any(_inside(other["loc"], fault["loc"]) for other in faults):
            continue  # what stands there is wrong in itself and was not counted
        problem = _problem(fault, tree, name)
        if (problem.path, problem.wrong) not in seen:
            seen.add((problem.path, problem.wrong))
            problems.append(problem)
    return problems


def _inside(loc: tuple[Key, ...], outer: tuple[Key, ...]) -> bool:
    return len(loc) > len(outer) and loc[: len(outer)] == outer


def _problem(fault: Any, tree: Tree, name: str) -> Problem:
    path = tuple(fault["loc"])
    if fault["type"] != "between_fields":  # those give the path itself
        path = _real_path(tree.data, path, missing=fault["type"] == "missing")
    found, wrong, example = _words(fault, path, tree)
    name_of_entry = View(tree.data).text(*path[:2], "id") if path[:1] and path[0] in LISTS else None
    if name_of_entry is not None and name_of_entry not in wrong:
        wrong = f"{WORDS[str(path[0])]} {name_of_entry}: {wrong}"
    return Problem(file=name, line=tree.line(path), path=dotted(path), found=found, wrong=wrong, example=example)


def _real_path(data: Any, loc: Path, *, missing: bool) -> Path:
    """Return the part of `loc` that exists in the document; Pydantic adds the tags of unions and `[key]`."""
    view = View(data)
    path: Path = ()
    for i, key in enumerate(loc):
        here = view.get(*path)
        is_last = i == len(loc) - 1 and key != "[key]"
        if i > 0 and isinstance(loc[i - 1], int) and isinstance(here, Mapping) and here.get("kind") == key:
            continue  # the tag of a union
        if (isinstance(here, Mapping) and key in here) or (
            isinstance(here, list) and isinstance(key, int) and key < len(here)
        ):
            path = (*path, key)
        elif is_last and isinstance(here, Mapping) and (missing or not _is_tag(loc, i)):
            path = (*path, key)
    return path


def _is_tag(loc: Path, i: int) -> bool:
    """Is this step of a location the tag of a union (it follows a list place, or names a kind of bush or spring)?"""
    return i > 0 and (isinstance(loc[i - 1], int) or loc[i] in ("bush", "link", "coil", "leaf", "torsion_bar"))


def _words(fault: Any, path: Path, tree: Tree) -> tuple[str, str, str]:
    """Return what was found, what is wrong and an example."""
    kind, context = fault["type"], fault.get("ctx", {})
    value = View(tree.data).get(*path)
    field = field_at(path, tree.data)
    example = example_of(field) if field is not None else ""
    found = kind_of(value)
    if kind == "between_fields":
        return context["found"], context["wrong"], context["example"]
    if fault["loc"] and fault["loc"][-1] == "[key]":
        found = repr(str(path[-1])[:60]) if path else found
    if kind == "quantity":
        return found, context["wrong"], context["example"]
    if kind == "missing":
        return (
            "nothing",
            "this field is missing" + (f": {field.description}" if field and field.description else ""),
            example,
        )
    if kind == "extra_forbidden":
        return _unknown_field(path, value, tree)
    if kind in ("literal_error", "union_tag_invalid"):
        known = _choices(fault, field)
        text = str(value.get("kind")) if kind == "union_tag_invalid" and isinstance(value, Mapping) else str(value)
        if fault["loc"][-1] == "[key]":
            text = str(path[-1])
        return (
            repr(text[:60]),
            f"not one of the words that may stand here; {nearest(text, known)}",
            _right(text, known),
        )
    if kind == "union_tag_not_found":
        return found, "kind is missing: say what kind of thing this is", "kind: line"
    if kind == "string_pattern_mismatch" and context.get("pattern") == NAME_PATTERN:
        shown = repr(str(fault["loc"][-2] if fault["loc"][-1] == "[key]" else value)[:60])
        return shown, f"not a name: {NAME_WORDS}", "front_standard"
    if kind == "string_pattern_mismatch" and "\\d{4}" in str(context.get("pattern")):
        return found, "not a day written year-month-day", "2026-09-14"
    wanted = {
        "string_type": "wanted text",
        "string_pattern_mismatch": "text with characters that cannot stand here",
        "model_type": "wanted fields",
        "model_attributes_type": "wanted fields",
        "dict_type": "wanted fields by name",
        "mapping_type": "wanted fields by name",
        "tuple_type": "wanted a list",
        "list_type": "wanted a list",
        "int_type": "wanted a whole number",
        "int_parsing": "wanted a whole number",
        "int_from_float": "wanted a whole number",
    }.get(kind)
    message = context.get("message", fault["msg"])
    return (
        found,
        wanted or str(message).replace("Input should", "it should").replace("should be a valid", "must be a"),
        example,
    )


def _right(text: str, known: tuple[str, ...]) -> str:
    return closest(text, list(known)) or (known[0] if known else "")


def _unknown_field(path: Path, value: Any, tree: Tree) -> tuple[str, str, str]:
    known = fields_of(path[:-1], tree.data)
    name = str(path[-1])
    near = closest(name, known)
    wrong = "unknown field; " + (f"did you mean {near!r}?" if near else "known: " + ", ".join(known[:14]))
    if re.match(r"[+\-−]?[\d.]", name) and value is None:
        wrong = "a point inside { } must stand in quotes"
        return repr(name), wrong, 'chassis: "-170, 330, 640 mm"'
    return repr(name[:60]), wrong, near


def choices_of(field: FieldInfo) -> tuple[str, ...]:
    """Return the words that may stand in a field; none where it takes no fixed ones."""
    for member in _members(field.annotation):
        if get_origin(member) is Literal:
            return tuple(str(a) for a in get_args(member))
    return ()


def _choices(fault: Any, field: FieldInfo | None) -> tuple[str, ...]:
    known = choices_of(field) if field is not None else ()
    if known:
        return known
    expected = str(fault.get("ctx", {}).get("expected_tags") or fault.get("ctx", {}).get("expected") or "")
    return tuple(re.findall(r"'([^']*)'", expected))


def _members(annotation: Any) -> tuple[Any, ...]:
    """Return the alternatives of an annotation, without Annotated and None."""
    if get_origin(annotation) is Annotated:
        return _members(get_args(annotation)[0])
    if get_origin(annotation) in _UNION_TYPES:
        return tuple(m for a in get_args(annotation) for m in _members(a) if a is not type(None))
    return (annotation,)


def _descend(annotation: Any, node: Any) -> tuple[Any, ...]:
    """Return the models, mappings and lists that a node of this annotation may be; of a union those that fit it."""
    members = _members(annotation)
    if len(members) < 2 or not isinstance(node, Mapping):
        return members
    kind = node.get("kind", _usual_kind(members))
    fit = tuple(m for m in members if _kind(m) is not None and _kind(m) == kind)
    if fit:
        return fit
    return (
        tuple(m for m in members if ("stiffness" in getattr(m, "model_fields", {})) == ("stiffness" in node)) or members
    )


def _kind(member: Any) -> str | None:
    fields = getattr(member, "model_fields", {})
    return str(get_args(fields["kind"].annotation)[0]) if "kind" in fields else None


def _usual_kind(members: tuple[Any, ...]) -> str | None:
    """Return the kind that a thing is which does not say, None if it must say."""
    for member in members:
        kind = getattr(member, "model_fields", {}).get("kind")
        if kind is not None and not kind.is_required():
            return str(kind.default)
    return None


def _walk(path: Path, data: Any) -> tuple[tuple[Any, ...], FieldInfo | None]:
    """Follow a path through the models; returns what it may be, and the field that says so."""
    here: tuple[Any, ...] = (Programme,)
    field: FieldInfo | None = None
    node = data
    for key in path:
        node = View(node).get(key)
        step: tuple[Any, ...] = ()
        for annotation in here:
            found, new = _step(annotation, key)
            if found is None:
                continue
            field = new or field
            step += _descend(found, node)
        here = step
        if not here:
            return (), None
    return here, field


def _step(annotation: Any, key: Key) -> tuple[Any, FieldInfo | None]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        for name, info in annotation.model_fields.items():
            if key == (info.alias or name):
                # the metadata of an alias such as PartLength is in the field, not in its annotation any more
                return info.annotation, info
        return None, None
    arguments = get_args(annotation)
    if get_origin(annotation) is tuple and arguments and isinstance(key, int):
        return arguments[0], _as_field(arguments[0])
    if arguments and len(arguments) == 2 and isinstance(key, str):
        return arguments[1], _as_field(arguments[1])
    return None, None


def _as_field(annotation: Any) -> FieldInfo:
    return FieldInfo.from_annotation(annotation)


def field_at(path: Path, data: Any) -> FieldInfo | None:
    """Return the field that a path leads to, or None if no model knows it."""
    return _walk(path, data)[1] if path else None


def fields_of(path: Path, data: Any) -> list[str]:
    """Return the field names that may stand at a path."""
    known: list[str] = []
    for member in _walk(path, data)[0]:
        for name, info in getattr(member, "model_fields", {}).items():
            known.append(info.alias or name)
    return known


def example_of(field: FieldInfo) -> str:
    """Return a right value of a field as people write it, or ""."""
    if field.examples:
        return str(field.examples[0])
    rules = list(field.metadata)
    for member in _annotated(field.annotation):
        rules += list(get_args(member)[1:])
    for rule in rules:
        if isinstance(rule, QuantityRule | PointRule | CurveRule | RodLengthRule | DiscRule | HolesRule):
            return rule.example
    members = _members(field.annotation)
    if members and get_origin(members[0]) is tuple:
        return f"[{example_of(_as_field(get_args(members[0])[0])) or '...'}]"
    if members and len(get_args(members[0])) == 2:  # a mapping
        return f"{{name: {example_of(_as_field(get_args(members[0])[1])) or '...'}}}"
    if members and get_origin(members[0]) is Literal:
        return str(get_args(members[0])[0])
    if members and isinstance(members[0], type) and issubclass(members[0], BaseModel):
        return (
            "{" + ", ".join(f"{i.alias or n}: ..." for n, i in members[0].model_fields.items() if i.is_required()) + "}"
        )
    return ""


def _annotated(annotation: Any) -> tuple[Any, ...]:
    if get_origin(annotation) is Annotated:
        return (annotation,)
    if get_origin(annotation) in _UNION_TYPES:
        return tuple(m for a in get_args(annotation) for m in _annotated(a))
    return ()
