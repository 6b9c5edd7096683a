"""Each meter's own error where three or more saw one ride, and whether their biases close."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.estimate import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnSpread:
    """A meter's own error in means of ``averaging_s`` seconds, as a standard deviation over the ride.

    ``variance_pct2`` and ``variance_w2`` are the variances as computed, which may be negative; ``own_sd_pct`` and
    ``own_sd_w`` their roots, zero where the variance is negative, with intervals whose low end is then zero.
    ``negative``: the variance came out below zero. ``resolved`` is the part, 0 to 1, of the averages' bandwidth that
    is left after every meter was seen through the others' responses: with less than 1 the interval reaches from no
    error beyond it to as much as before it. ``contradicted``: even the high end of the variance is below zero,
    which independent errors cannot do.
    """

    averaging_s: int
    windows: int
    variance_pct2: float
    variance_w2: float
    own_sd_pct: Estimate
    own_sd_w: Estimate
    resolved: float
    negative: bool
    contradicted: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterOwnError:
    """One meter among the others: ``recording`` is its place in the comparison, the reference being 0."""

    name: str
    recording: int
    spreads: tuple[OwnSpread, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """Three biases around a triangle: first over reference, second over first, reference over second.

    ``closure_pct`` is what their product differs from one, in percent; zero where they agree.
    """

    first: int
    second: int
    closure_pct: Estimate
    closes: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MetersTogether:
    """All meters of a ride put on trial together; ``not_assessed`` is a slug with its sentence ``why``, or empty.

    ``seconds`` is how many seconds all of them showed more than the least power. ``assumptions`` are sentences that
    the result stands on; ``warnings`` what the data say against them.
    """

    meters: tuple[MeterOwnError, ...]
    closures: tuple[Closure, ...]
    seconds: int
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]
    not_assessed: str = ""
    why: str = ""
