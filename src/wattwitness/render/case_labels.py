"""The words beside named cases of a chart on its side: on two lines, on one, or thinned, as there is room."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

TWO_LINES = 2.3
ONE_LINE = 1.2
"""Room that a case needs, in lines."""

LEAST_MARK = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class Cases:
    """Where each case stands, from the top, in rows; what is written beside it (empty: nothing); and how many rows
    there are. ``crowded`` is how much smaller than usual its marks must be, 1 where there is room.
    """

    at: tuple[float, ...]
    labels: tuple[str, ...]
    rows: float
    crowded: float


def placed(cases: Sequence[str], *, lines: float, letters: float, always: Collection[int] = ()) -> Cases:
    """``cases`` (``name: value``) in a room of so many lines' heights, ``letters`` across.

    Where there is no room for a line each, some cases get no label; those at the places ``always`` get theirs, and
    room for it.
    """
    parts = [(name, value) for name, _, value in (case.partition(": ") for case in cases)]
    most, room = max(int(letters), 4), lines / max(len(cases), 1)
    if room >= TWO_LINES:
        labels = [
            "\n".join(_cut(part, most) for part in (f"{name}:", value)) if value else _cut(name, most)
            for name, value in parts
        ]
        return _evenly(labels)
    labels = [_on_one_line(name, value, most) for name, value in parts]
    if room >= ONE_LINE:
        return _evenly(labels)
    return _thinned(labels, lines, frozenset(always))


def _evenly(labels: list[str]) -> Cases:
    return Cases(
        at=tuple(place + 0.5 for place in range(len(labels))), labels=tuple(labels), rows=len(labels), crowded=1.0
    )


def _thinned(labels: list[str], lines: float, always: Collection[int]) -> Cases:
    """Every so many a label; the cases asked for stand as far from the rest as a line is high."""
    ordinary = max(len(labels) - len(always), 1)
    row = max(lines - ONE_LINE * len(always), 1.0) / ordinary  # the height of an ordinary row, in lines
    tall = ONE_LINE / row
    at: list[float] = []
    shown: list[str] = []
    top, free_from = 0.0, 0.0
    for place, label in enumerate(labels):
        height = tall if place in always else 1.0
        centre = top + height / 2
        fits = centre >= free_from
        at.append(centre)
        shown.append(label if place in always or fits else "")
        if shown[-1]:
            free_from = centre + tall
        top += height
    for place in sorted(always):  # the ordinary label just above one of these may be too near
        for other in range(place - 1, -1, -1):
            if at[place] - at[other] >= tall or other in always:
                break
            shown[other] = ""
    return Cases(at=tuple(at), labels=tuple(shown), rows=top, crowded=max(min(row / ONE_LINE, 1.0), LEAST_MARK))


def _on_one_line(name: str, value: str, most: int) -> str:
    """Both where they fit, else the name."""
    whole = f"{name}: {value}" if value else name
    return whole if len(whole) <= most else _cut(name, most)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip(": ") + "…"
