"""What meters are called in a report: the tester's own names, made harmless, and told apart."""

from __future__ import annotations

import re
import unicodedata

from wattwitness.model.comparison import PairComparison, RecordingSummary

LONGEST_NAME = 60
_THE_AT_A_START = re.compile(r"(?<=[.!?]\s)the\b")
_FIRST_STRONG_ISOLATE, _POP_ISOLATE = "\u2068", "\u2069"


def clean(text: str, *, longest: int = LONGEST_NAME) -> str:
    """``text`` on one line without control characters, direction marks or excess length.

    A name from a file may hold terminal escapes or marks that turn the rest of a sentence around. Letters written
    from right to left stay, isolated so that the sentence around them keeps its order.
    """
    kept = "".join(" " if character.isspace() else character for character in text if not _unwelcome(character))
    name = " ".join(kept.split())
    if len(name) > longest:
        name = name[: longest - 1].rstrip() + "…"
    if any(unicodedata.bidirectional(character) in ("R", "AL") for character in name):
        name = f"{_FIRST_STRONG_ISOLATE}{name}{_POP_ISOLATE}"
    return name


def _unwelcome(character: str) -> bool:
    """Controls, formats (direction marks, joiners), surrogates and private use; white space is kept as a blank."""
    return not character.isspace() and unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co")


def recording_name(recording: RecordingSummary) -> str:
    """The label, else the file's name."""
    return clean(recording.label) or clean(recording.source.file_name) or "an unnamed recording"


def pair_names(pair: PairComparison) -> tuple[str, str]:
    """What to call the reference and the unit of ``pair``; never the same."""
    reference, unit = recording_name(pair.reference), recording_name(pair.unit)
    if reference == unit:
        return f"{reference} (reference)", f"{unit} (unit)"
    return reference, unit


def unit_names(pairs: tuple[PairComparison, ...]) -> tuple[str, ...]:
    """What to call the unit of each pair, told apart by number where two share a name."""
    names = [pair_names(pair)[1] for pair in pairs]
    return tuple(f"{name} (unit {k})" if names.count(name) > 1 else name for k, name in enumerate(names, start=1))


def sentence_start(text: str) -> str:
    """``text`` with its first letter large, unless it begins with a file's name, which is written as it is."""
    first_word = text.split(maxsplit=1)[0] if text.strip() else ""
    if "." in first_word.rstrip(".,:;"):
        return text
    return text[:1].upper() + text[1:]


def sentence_starts(text: str) -> str:
    """``text`` of several sentences; one that begins with ``the unit`` begins with a large letter."""
    return _THE_AT_A_START.sub("The", sentence_start(text))
