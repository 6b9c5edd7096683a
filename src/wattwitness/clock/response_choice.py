"""Which response family two powers show, or that the effort cannot tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wattwitness.clock.response_errors import Uncertain, plausible_shapes_s, trailing_s, uncertainties
from wattwitness.clock.response_families import Family, Parameter, Smoother, lag_s
from wattwitness.clock.response_scoring import Prior, cost_by_stretch
from wattwitness.clock.response_search import PROMPT, Evidence, Fitted, fit_families, minus_log_likelihood, walked
from wattwitness.clock.response_spectra import CLOSE_S, Spectra
from wattwitness.model.response import ResponseKind

SHORTEST_SMOOTH_S = {ResponseKind.MEAN: 1.6, ResponseKind.EXPONENTIAL: 0.55}
"""Less smoothing than this is within what sampling at whole seconds does: called prompt."""
CONTRAST_S = 3.0
"""Where the data cannot tell a prompt meter from a mean over this long, the response is not assessed."""
LATE_IF_SMOOTH_S = {ResponseKind.MEAN: 2.9, ResponseKind.EXPONENTIAL: 1.0}
UNDONE_LAG = 0.6
"""A kernel up to the first of which a negative delay undoes so much of its lag is no smoothing."""
SPACINGS_SMOOTH, SPACINGS_CONTRAST = 1.5, 2.5
"""The same two where samples are further apart than a second, in spacings."""
CONTRAST = 4.0
"""How much less likely (minus log likelihood) that mean has to be."""
DIRECTION_CONTRAST = 6.0
"""How much less likely it has to be that the other meter is the smooth one."""
ONE_PLACE = 4
"""Stretches in a row that one fault of minutes can touch."""
PLAIN = 200.0
"""A smooth family this much more likely than prompt has one peak only; below, its other peaks are looked for."""
WIDEST_RATIO = 2.5
"""Where shapes this far apart are nearly as likely, the response is not assessed."""
USUAL_DELAY_S, USUAL_CLOCK_ERROR_S = 3.0, 1.5
"""Spread of delays of displays, and of what a clock may be wrong by, as they count between families of like merit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The family chosen.

    ``shape_s``: width or time constant (``None`` where prompt); ``trailing_s``: how far the unit trails the reference
    beyond both kernels' mean lags; ``criterion`` of every family tried, lower is better.
    """

    family: Family
    shape_s: Uncertain | None
    trailing_s: Uncertain
    criterion: tuple[tuple[str, float], ...]


def choose(spectra: Spectra, *, delay_known: bool) -> Choice | None:
    """The most likely family and its parameters; ``None`` where the effort cannot tell.

    ``delay_known``: the clock is good enough for a delay to be one, so that a family which needs an unusual delay has
    to be so much the better otherwise.
    """
    evidence, fits = fit_families(spectra)
    if delay_known:
        fits = tuple(replace(fit, value=fit.value + _delay_cost(evidence, fit)) for fit in fits)
    chosen = _decided(evidence, fits, delay_known=delay_known)
    if chosen is None:
        return None
    shape_s, trailing = uncertainties(evidence, chosen)
    if chosen.family != PROMPT and fits[0].value - chosen.value < PLAIN:
        least_s, most_s = plausible_shapes_s(evidence, chosen)
        if most_s > WIDEST_RATIO * least_s:
            return None
        shape_s = replace(shape_s, plausible=(least_s, most_s))
    worth = np.log(float(evidence.data.worth.sum()))
    return Choice(
        family=chosen.family,
        shape_s=None if chosen.family == PROMPT else shape_s,
        trailing_s=trailing,
        criterion=tuple((fit.family.name(fit.shape_s), float(2.0 * fit.value + fit.size * worth)) for fit in fits),
    )


def _delay_s(evidence: Evidence, fit: Fitted) -> float:
    """The pure delay of the smooth meter, of the unit where none is."""
    trailing = float(trailing_s(evidence.spectra, fit.family, fit.parameters[np.newaxis])[0])
    return -trailing if fit.family.smoother is Smoother.REFERENCE else trailing


def _delay_cost(evidence: Evidence, fit: Fitted) -> float:
    """Minus the log of how usual the pure delay of ``fit`` is."""
    delay_s = _delay_s(evidence, fit)
    return 0.5 * (delay_s / (USUAL_DELAY_S if delay_s > 0 else USUAL_CLOCK_ERROR_S)) ** 2


def _smooth_enough(evidence: Evidence, fit: Fitted, *, delay_known: bool) -> bool:
    """Whether a smooth family shows more than sampling and other noise than white can feign.

    It has to be longer than the shortest that is called smooth. A little longer, it has to be late as well: no meter
    smooths without, but interpolation and noise with little at low frequency look as if one did.
    """
    kind = fit.family.kind
    if fit.shape_s < _shortest_s(evidence, kind):
        return False
    if not delay_known or fit.shape_s > LATE_IF_SMOOTH_S[kind]:
        return True
    return _delay_s(evidence, fit) > -UNDONE_LAG * float(lag_s(kind, np.array([fit.shape_s]))[0])


def _decided(evidence: Evidence, fits: Sequence[Fitted], *, delay_known: bool) -> Fitted | None:
    """The family to believe; ``None`` where prompt and smooth, or who is smooth, cannot be told.

    A smooth family has to pay for its two parameters more (Schwarz 1978, Ann. Stat. 6:461: half the logarithm of the
    number of independent values each), and has to explain the ride better all along it.
    """
    prompt = next(fit for fit in fits if fit.family == PROMPT)
    smooth = [fit for fit in fits if fit.family != PROMPT and _smooth_enough(evidence, fit, delay_known=delay_known)]
    price = 0.5 * np.log(float(evidence.data.worth.sum()))
    best = min(smooth, key=minus_log_likelihood, default=prompt)
    if best.value + (best.size - prompt.size) * price < prompt.value:
        others = [fit.value for fit in smooth if fit.family.smoother is not best.family.smoother]
        sure = min(others, default=np.inf) - best.value >= DIRECTION_CONTRAST
        return best if sure and _told_apart(evidence, best, prompt) else None
    told = all(_told_apart(evidence, prompt, _at_contrast(evidence, prompt, smoother)) for smoother in Smoother)
    return prompt if told else None


def _shortest_s(evidence: Evidence, kind: ResponseKind) -> float:
    """The least shape that is called smooth; a time constant is as smooth as a mean three times as wide."""
    of_spacing = SPACINGS_SMOOTH * evidence.spectra.spacing_s
    if evidence.spectra.spacing_s <= CLOSE_S:
        return SHORTEST_SMOOTH_S[kind]
    return of_spacing if kind is ResponseKind.MEAN else of_spacing / 3.0


def _told_apart(evidence: Evidence, better: Fitted, worse: Fitted) -> bool:
    """Whether ``better`` explains the ride better, and still does without the one place that speaks for it most."""
    if worse.value - better.value < CONTRAST:
        return False
    costs = [cost_by_stretch(evidence.spectra, evidence.data, fit.family, fit.parameters) for fit in (worse, better)]
    gain = evidence.weights * (costs[0] - costs[1])
    place = min(ONE_PLACE, max(1, evidence.spectra.stretches // 4))
    most = float(np.convolve(gain, np.ones(place)).max())
    return float(gain.sum()) - most > 0.5 * CONTRAST


def _at_contrast(evidence: Evidence, prompt: Fitted, smoother: Smoother) -> Fitted:
    """The best that a mean long enough to tell from prompt, on one of the meters, can do."""
    spacing_s = evidence.spectra.spacing_s
    width = np.log(CONTRAST_S if spacing_s <= CLOSE_S else max(CONTRAST_S, SPACINGS_CONTRAST * spacing_s))
    centre, spread = evidence.prior.centre.copy(), evidence.prior.spread.copy()
    centre[Parameter.SHAPE], spread[Parameter.SHAPE] = width, 1e-4
    start = np.tile(prompt.parameters, (2, 1))
    start[:, Parameter.SHAPE] = width
    start[1, Parameter.EARLY_NOISE :] = evidence.prior.centre[Parameter.EARLY_NOISE :]
    family = Family(kind=ResponseKind.MEAN, smoother=smoother)
    return walked(evidence, family, start, prior=Prior(centre=centre, spread=spread))
