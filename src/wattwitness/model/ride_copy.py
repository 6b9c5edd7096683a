"""The words of a ride copy: a whole recording as a plain table, without positions, serial numbers and names.

Numbers stand in it in full, so that what is computed from the copy is what was computed from the original; what a table
does not hold (pauses, whether samples were written only on a change, what the reader noticed) stands above it, in lines
that begin with ``#``.
"""

from __future__ import annotations

from enum import StrEnum

MARK = "# ride copy 1"
"""The first line; the number is the version of the format."""

TIME = "time_s"
TIME_SHOWN = "time_utc"
"""The time as people read it, for dated recordings; it is not read back."""


class Head(StrEnum):
    """What a line above the table is about."""

    LABEL = "label"
    MAKER = "maker"
    PRODUCT = "product"
    FIRMWARE = "firmware"
    TIMES = "times"
    EVENT_DRIVEN = "event driven"
    SPOT = "spot readings"
    PAUSE = "pause"
    NOTICE = "notice"


class Times(StrEnum):
    """What ``time_s`` counts from."""

    DATED = "seconds since 1970-01-01 UTC"
    UNDATED = "seconds after the file's own zero"
