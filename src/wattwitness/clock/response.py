"""Each meter's response relative to the other's, and the two powers to compare once it is known.

`fit_response` finds which of the two is smoothed, in what way, and how late, from both powers on one grid. What it
rests on stands in `response_spectra` (the data), `response_families` (the model), `response_scoring` (its likelihood),
`response_search`, `response_choice` and `response_errors`.
`expected_power` and `compared_unit_power` then give the two series that should agree but for the unit's error:

- The unit is the smoother (or neither is): the reference is passed through the unit's kernel.
- The reference is the smoother: it cannot be made prompt again, so the unit is passed through the reference's kernel.
- Either way the reference is moved by ``shift_s``, so that what is left of a delay is not counted as error. Where the
  clock was read from power (or given by hand) a delay of the display cannot be told from the clock: ``delay_s`` is not
  assessed, and ``shift_s`` is what is left of the two together.
"""

from __future__ import annotations

from wattwitness.clock.kernels import convolve_present, response_kernel
from wattwitness.clock.response_choice import Choice, choose
from wattwitness.clock.response_families import Smoother
from wattwitness.clock.response_spectra import CLOSE_S, power_spectra
from wattwitness.model.aligned import Blend
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.response import Response, ResponseFit, ResponseKind

WITHIN_TIMING_S = 0.1
UNSURE_S = 0.3
"""A shift up to the first, or up to the second where it is within its own uncertainty, is left alone: moving by a
fraction of a second smooths."""


def fit_response(
    reference_w: FloatArray,
    unit_w: FloatArray,
    *,
    clock_channel: ChannelName | None,
    level: float = 0.95,
    clock_uncertainty_s: float = 0.0,
    reference_blend: Blend | None = None,
    unit_blend: Blend | None = None,
) -> ResponseFit:
    """Fit the responses of two meters to their power on one grid, shape (n,) each, one value a second, NaN if missing.

    ``clock_channel`` is what the clock was read from (``None``: given by hand): only cadence lets a delay be told from
    the clock, whose standard uncertainty ``clock_uncertainty_s`` the delay's interval then carries. The blends say how
    each power was put on the grid; without the unit's, up to a second of smoothing by interpolation is allowed for and
    cannot be told from the unit's own.

    Not assessed: ``too_few_seconds`` (fewer than five stretches of 128 s with both); ``nothing_changes`` where a meter
    shows one number most of the time; ``steady_effort`` where the effort
    cannot tell a prompt meter from one that shows a 3 s mean, ``samples_too_far_apart`` where samples every few seconds
    cannot. With such samples, prompt means within about one and a half of their spacings.
    """
    spectra = power_spectra(reference_w, unit_w, reference_blend=reference_blend, unit_blend=unit_blend)
    if spectra is None:
        return _not_assessed("too_few_seconds", level)
    if not spectra.both_change:
        return _not_assessed("nothing_changes", level)
    choice = choose(spectra, delay_known=clock_channel is ChannelName.CADENCE)
    if choice is None:
        wide = spectra.spacing_s > CLOSE_S
        return _not_assessed("samples_too_far_apart" if wide else "steady_effort", level)
    return _as_fit(choice, clock_channel, clock_uncertainty_s, level)


def expected_power(reference_w: FloatArray, fit: ResponseFit) -> FloatArray:
    """The reference through the unit's response, as the unit's clock placed it; shape (n,), NaN where missing."""
    return convolve_present(reference_w, response_kernel(fit.unit), fit.shift_s)


def compared_unit_power(unit_w: FloatArray, fit: ResponseFit) -> FloatArray:
    """The unit through the reference's response: the unit as it is, unless the reference is the smoother."""
    return convolve_present(unit_w, response_kernel(fit.reference))


def _as_fit(choice: Choice, channel: ChannelName | None, clock_uncertainty_s: float, level: float) -> ResponseFit:
    """Put the choice into words: which meter is smooth, and which carries the delay.

    The smooth one carries the delay, the unit where neither is smooth, so that a negative delay means that the other
    one is later; only where the reference is smooth and yet earlier does the unit carry it.
    """
    trailing = choice.trailing_s.widened(clock_uncertainty_s).estimate(level)
    if channel is not ChannelName.CADENCE:
        slug = "clock_by_hand" if channel is None else f"clock_from_{channel.name.lower()}"
        trailing = Estimate.missing(slug, "s", level)
    none = Estimate.missing("taken_as_prompt", "s", level)
    if choice.family.smoother is Smoother.UNIT or choice.family.kind is ResponseKind.PROMPT:
        unit = _response(choice, trailing, level)
        reference = _prompt(none, level)
    else:
        unit_is_late = trailing.value is not None and trailing.value > 0
        reference = _response(choice, none if unit_is_late else _negated(trailing), level)
        unit = _prompt(trailing if unit_is_late else none, level)
    shift_s = choice.trailing_s.value
    left_alone_s = max(WITHIN_TIMING_S, min(UNSURE_S, 2.0 * choice.trailing_s.widened(clock_uncertainty_s).standard))
    return ResponseFit(
        reference=reference,
        unit=unit,
        criterion=choice.criterion,
        shift_s=0.0 if abs(shift_s) <= left_alone_s else shift_s,
    )


def _response(choice: Choice, delay_s: Estimate, level: float) -> Response:
    missing = Estimate.missing("not_of_this_kind", "s", level)
    shape = missing if choice.shape_s is None else choice.shape_s.estimate(level)
    kind = choice.family.kind
    return Response(
        kind=kind,
        width_s=shape if kind is ResponseKind.MEAN else missing,
        tau_s=shape if kind is ResponseKind.EXPONENTIAL else missing,
        delay_s=delay_s,
    )


def _prompt(delay_s: Estimate, level: float) -> Response:
    missing = Estimate.missing("not_of_this_kind", "s", level)
    return Response(kind=ResponseKind.PROMPT, width_s=missing, tau_s=missing, delay_s=delay_s)


def _not_assessed(slug: str, level: float) -> ResponseFit:
    missing = Estimate.missing(slug, "s", level)
    response = Response(kind=ResponseKind.NOT_ASSESSED, width_s=missing, tau_s=missing, delay_s=missing)
    return ResponseFit(reference=response, unit=response)


def _negated(estimate: Estimate) -> Estimate:
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return estimate
    return Estimate(
        value=-estimate.value, low=-estimate.high, high=-estimate.low, unit=estimate.unit, level=estimate.level
    )
