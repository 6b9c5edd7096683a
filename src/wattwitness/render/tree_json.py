"""Nested results as JSON under their own field names, and the schema that their types make: neither can drift."""

from __future__ import annotations

import inspect
import types
import typing
from collections.abc import Collection
from dataclasses import fields, is_dataclass
from enum import StrEnum
from typing import Any

from wattwitness.model.estimate import Estimate
from wattwitness.render.json_values import JsonObject, json_estimate, json_number
from wattwitness.render.schema_words import Schema, list_schema, object_schema, ref_schema


def json_tree(result: Any, *, without: Collection[str] = ()) -> Any:
    """A result with everything in it: dataclasses as objects, tuples as lists, numbers as ``json_values`` has them.

    ``without`` are names of fields to leave out, wherever they stand.
    """
    if isinstance(result, Estimate):
        return json_estimate(result)
    if isinstance(result, StrEnum):
        return result.value
    if is_dataclass(result):
        tree: JsonObject = {
            item.name: json_tree(getattr(result, item.name), without=without)
            for item in fields(result)
            if item.name not in without
        }
        return tree
    if isinstance(result, tuple | list):
        return [json_tree(item, without=without) for item in result]
    if isinstance(result, bool | str | int) or result is None:
        return result
    return json_number(float(result))


def tree_schema(kind: type[Any], *, without: Collection[str] = ()) -> Schema:
    """The schema of ``json_tree`` of a ``kind``; an estimate is a reference to the definition of that name."""
    hints = typing.get_type_hints(kind)
    return object_schema(
        _described(kind),
        **{
            item.name: {"description": _meaning(item.name), **_of(hints[item.name], without)}
            for item in fields(kind)
            if item.name not in without
        },
    )


def _of(hint: Any, without: Collection[str]) -> Schema:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        kinds = [one for one in arguments if one is not type(None)]
        return {"anyOf": [*(_of(one, without) for one in kinds), {"type": "null"}]}
    if origin is tuple:
        return _of_tuple(arguments, without)
    if hint is Estimate:
        return ref_schema("estimate")
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return {"enum": [one.value for one in hint], "description": _described(hint)}
    if is_dataclass(hint) and isinstance(hint, type):
        return tree_schema(hint, without=without)
    plain = {bool: "boolean", int: "integer", str: "string"}.get(hint)
    # A number that is not finite has no place in JSON and becomes null.
    return {"type": plain} if plain else {"type": ["number", "null"]}


def _of_tuple(arguments: tuple[Any, ...], without: Collection[str]) -> Schema:
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        return list_schema(_of(arguments[0], without), "In the order of the rides, or as the names say.")
    return {
        "type": "array",
        "prefixItems": [_of(one, without) for one in arguments],
        "minItems": len(arguments),
        "maxItems": len(arguments),
    }


UNITS = {
    "pct": "%",
    "w": "W",
    "rpm": "rpm",
    "nm": "N·m",
    "s": "s",
    "min": "min",
    "kj": "kJ",
    "h": "1/h",
    "c": "°C",
    "hours": "h",
}


def _meaning(name: str) -> str:
    """A field's own words, and the unit at their end."""
    *words, last = name.split("_")
    unit = UNITS.get(last)
    if unit is None or not words:
        return f"{name.replace('_', ' ')}{f', in {unit}' if unit else ''}."
    return f"{' '.join(words)}, in {unit}."


def _described(kind: type[Any]) -> str:
    return " ".join(inspect.cleandoc(kind.__doc__ or "").split()).replace("``", "")
