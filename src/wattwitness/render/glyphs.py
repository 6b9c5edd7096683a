"""Signs that the fonts of figures and PDF do not hold: what stands in their place, and the sentence that says so.

A name may hold an emoji or letters of a script that the fonts lack. Where one would be an empty box, its name or its
number in Unicode stands in square brackets, so that two names stay apart and a reader can look it up.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterator
from dataclasses import fields, is_dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

from wattwitness.model.publication import Publication

FONTS = ("DejaVuSans.ttf", "DejaVuSans-Bold.ttf")
"""A sign counts as held where both do: titles are bold. They come with the library that draws the figures."""

MOST_IN_A_ROW, SHOWN_OF_MORE = 8, 3
MOST_NAMED = 6
JOINED = "\u200d\ufe0e\ufe0f" + "".join(map(chr, range(0x1F3FB, 0x1F400)))
"""What only changes the sign before it: joiner, forms of an emoji, colours of skin."""

WITHOUT_A_SHAPE = ("Cc", "Cs")
FORMATS = "Cf"
Noun = TypeVar("Noun")


def drawable(text: str) -> str:
    """``text`` as fonts can show it: a row of signs that they lack as ``[bicyclist]`` or ``[U+81EA U+884C]``."""
    if text.isascii():
        return "".join(sign for sign in text if sign == "\n" or sign.isprintable())
    made: list[str] = []
    row: list[str] = []
    for sign in text:
        if sign in JOINED and row:
            continue
        if _lacking(sign):
            row.append(sign)
            continue
        made += [_in_brackets(row)] if row else []
        row = []
        if sign == "\n" or unicodedata.category(sign) not in WITHOUT_A_SHAPE:
            made.append(sign)
    return "".join([*made, _in_brackets(row) if row else ""])


def without_formats(text: str) -> str:
    """``text`` without marks of direction and the like, which some fonts show as boxes."""
    return "".join(sign for sign in text if unicodedata.category(sign) != FORMATS)


def drawable_tree(noun: Noun) -> Noun:
    """A chart, or any other noun of the model, with every text in it as a figure can show it."""
    return cast(Noun, _changed(noun))


def sentence(noun: Any, *, where: str) -> str:
    """What stands in the place of signs in ``where``, in a sentence of plain letters; empty where all can be drawn."""
    lacking = dict.fromkeys(sign for text in texts_in(noun) if not text.isascii() for sign in text if _lacking(sign))
    names = [_called(sign) for sign in lacking]
    if not names:
        return ""
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return (
        f"The fonts of {where} lack signs that a name or a text holds; their names or numbers in Unicode stand there "
        f"in square brackets: {', '.join(names[:MOST_NAMED])}{more}."
    )


def sentence_of(publication: Publication, *, where: str) -> str:
    """The same of all that a publication draws and says."""
    return sentence((publication.title, publication.when, publication.about, publication.sections), where=where)


def texts_in(noun: Any) -> Iterator[str]:
    """Every text in a noun of the model."""
    if isinstance(noun, str):
        yield noun
    elif is_dataclass(noun):
        for item in fields(noun):
            yield from texts_in(getattr(noun, item.name))
    elif isinstance(noun, tuple | list):
        for part in noun:
            yield from texts_in(part)


def _changed(noun: Any) -> Any:
    if type(noun) is str:  # words of an enumeration are the program's own
        shown = without_formats(drawable(noun))
        return noun if shown == noun else shown
    if isinstance(noun, tuple):
        parts = tuple(_changed(part) for part in noun)
        return noun if all(new is old for new, old in zip(parts, noun, strict=True)) else parts
    if is_dataclass(noun) and not isinstance(noun, type):
        before = {item.name: getattr(noun, item.name) for item in fields(noun)}
        after = {name: _changed(part) for name, part in before.items()}
        other = {name: part for name, part in after.items() if part is not before[name]}
        return replace(noun, **other) if other else noun
    return noun


def _lacking(sign: str) -> bool:
    """Whether a sign has a shape of its own and the fonts do not hold it."""
    return (
        not sign.isascii()
        and ord(sign) not in _held()
        and sign not in JOINED
        and unicodedata.category(sign) not in (*WITHOUT_A_SHAPE, FORMATS)
        and not sign.isspace()
    )


@cache
def _held() -> Collection[int]:
    """Numbers of the signs that every one of the fonts holds."""
    import matplotlib as mpl
    from matplotlib.ft2font import FT2Font

    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    first, *others = (frozenset(FT2Font(str(folder / name)).get_charmap()) for name in FONTS)
    return first.intersection(*others)


def _in_brackets(row: list[str]) -> str:
    shown = row if len(row) <= MOST_IN_A_ROW else row[:SHOWN_OF_MORE]
    names = [_called(sign) for sign in shown]
    between = " " if all(name.startswith("U+") for name in names) else ", "
    more = f" and {len(row) - len(shown)} more" if len(row) > len(shown) else ""
    return f"[{between.join(names)}{more}]"


def _called(sign: str) -> str:
    """The name of a symbol; the number of a letter, whose name would say no more, or of what has no name yet."""
    name = unicodedata.name(sign, "") if unicodedata.category(sign).startswith("S") else ""
    return name.lower() if re.fullmatch(r"[A-Z -]+", name) else f"U+{ord(sign):04X}"
