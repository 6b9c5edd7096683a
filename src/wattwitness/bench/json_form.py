"""Nouns of the model as strict JSON and back: built from their types only, so that nothing in a text can run."""

from __future__ import annotations

import json
import math
import types
import typing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import StrEnum
from functools import cache
from typing import Any, TypeVar, cast

import numpy as np

NOT_FINITE = {"nan": math.nan, "inf": math.inf, "-inf": -math.inf}
Noun = TypeVar("Noun")


def to_text(noun: Any) -> str:
    """A dataclass of the model as JSON; numbers that are not finite are the words nan, inf and -inf."""
    return json.dumps(_plain(noun), allow_nan=False, ensure_ascii=False, separators=(",", ":"))


def from_text(kind: type[Noun], text: str, *, whole: bool = False) -> Noun:
    """The noun again. What a text of an older program does not hold has its default, unless it must be ``whole``.

    Raises ValueError for anything that ``to_text`` would not have written.
    """
    try:
        return cast(Noun, _made(kind, json.loads(text), whole))
    except (TypeError, KeyError, RecursionError) as error:
        raise ValueError(f"this is no {kind.__name__}: {error}") from error


def _plain(value: Any) -> Any:
    if isinstance(value, StrEnum):
        return value.value
    if value is None or isinstance(value, bool | str | int):
        return value
    if is_dataclass(value):
        return {item.name: _plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, tuple | list | np.ndarray):
        return [_plain(item) for item in value]
    number = float(value)
    if math.isfinite(number):
        return number
    return "nan" if math.isnan(number) else "inf" if number > 0 else "-inf"


def _made(hint: Any, plain: Any, whole: bool) -> Any:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        kinds = [one for one in arguments if one is not type(None)]
        return None if plain is None and len(kinds) < len(arguments) else _made(kinds[0], plain, whole)
    if origin is tuple:
        return _tuple(arguments, plain, whole)
    if isinstance(hint, type) and is_dataclass(hint):
        return _object(hint, plain, whole)
    if isinstance(hint, type) and issubclass(hint, StrEnum):
        return hint(plain)
    if hint in (bool, int, str):
        if type(plain) is not hint:
            raise ValueError(f"{plain!r} is no {hint.__name__}")
        return plain
    if hint is float:
        return _number(plain)
    # What is left in the model is an array of numbers.
    return np.array([_number(one) for one in _list(plain)], dtype=np.float64)


def _object(hint: Any, plain: Any, whole: bool) -> Any:
    hints = _hints(hint)
    if not isinstance(plain, Mapping) or set(plain) - set(hints) or (whole and set(hints) - set(plain)):
        raise ValueError(f"this is no {hint.__name__}")
    return hint(**{name: _made(hints[name], value, whole) for name, value in plain.items()})


@cache
def _hints(kind: Any) -> dict[str, Any]:
    """The type of each field; asked for thousands of times by the rides of one study."""
    hints = typing.get_type_hints(kind)
    return {item.name: hints[item.name] for item in fields(kind)}


def _tuple(arguments: tuple[Any, ...], plain: Any, whole: bool) -> tuple[Any, ...]:
    items = _list(plain)
    if len(arguments) == 2 and arguments[1] is Ellipsis:
        return tuple(_made(arguments[0], one, whole) for one in items)
    return tuple(_made(kind, one, whole) for kind, one in zip(arguments, items, strict=True))


def _list(plain: Any) -> list[Any]:
    if not isinstance(plain, list):
        raise ValueError(f"{plain!r} is no list")
    return plain


def _number(plain: Any) -> float:
    if isinstance(plain, str):
        return NOT_FINITE[plain]
    if isinstance(plain, bool) or not isinstance(plain, int | float):
        raise ValueError(f"{plain!r} is no number")
    return float(plain)
