"""How a meter's display follows the effort: at once, as a mean of the last seconds, or exponentially, and how late."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.estimate import Estimate


class ResponseKind(StrEnum):
    """The family of a response."""

    PROMPT = "prompt"
    MEAN = "mean"
    EXPONENTIAL = "exponential"
    NOT_ASSESSED = "not_assessed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Response:
    """One meter's response relative to the other's.

    ``width_s``: seconds of the trailing mean (kind ``mean``); ``tau_s``: time constant (kind ``exponential``); each is
    not assessed, with slug ``not_of_this_kind``, for the other kinds. ``delay_s`` is the pure delay beyond the
    kernel's own mean lag: (width - 1)/2 s for a mean over ``width`` one-second samples, and that of the discrete
    exponential otherwise.
    """

    kind: ResponseKind
    width_s: Estimate
    tau_s: Estimate
    delay_s: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ResponseFit:
    """The responses of both meters; one of them is ``prompt``, since only their difference can be seen.

    ``criterion`` gives the information criterion of every family tried, lower is better, by a name such as
    ``unit mean 5 s``. ``shift_s`` is how far the unit, as its clock placed it, trails the reference beyond both
    kernels' mean lags: its delay where the clock is good enough to call it one, else what is left of delay and clock
    together. A comparison moves the reference by it either way.
    """

    reference: Response
    unit: Response
    criterion: tuple[tuple[str, float], ...] = ()
    shift_s: float = 0.0
