"""What the stories are judged by: the fitted gain and zero with all their doubt, and what is known of the meters."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from wattwitness.agreement.anatomy import GAIN_FLOOR, ZERO_FLOOR_NM
from wattwitness.agreement.fluctuation import Fluctuation
from wattwitness.model.anatomy import Anatomy, MeterSide
from wattwitness.model.arrays import FloatArray
from wattwitness.model.response import ResponseFit
from wattwitness.model.settling import TimeModel
from wattwitness.model.setup import Place, Sides
from wattwitness.stats.wandering import WanderingFit

EXCLUDED_BELOW = 0.01
"""A story is excluded when a disagreement at least this large would come up less often than this if it were true; and
nothing is told at all unless the meters differ by more than chance would make them this seldom."""

REFERENCE_ZERO_NM = 0.06
"""Standard uncertainty of a reference's own zero: 0.0125 N·m/K, the usual drift of a transducer's zero with
temperature, over 5 K."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterFacts:
    """What is on record of a meter; ``None`` or unknown is not recorded, which is never taken as done or right."""

    place: Place = Place.UNKNOWN
    sides: Sides = Sides.UNKNOWN
    crank_set_mm: float | None = None
    crank_true_mm: float | None = None
    zero_taken: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridden:
    """What the ride varied, by which advice is given: the ends of the middle 90 % of torque, cadence and power.

    ``cadence_rpm`` is ``None`` where it was not recorded.
    """

    torque_nm: tuple[float, float]
    power_w: tuple[float, float]
    cadence_rpm: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Evidence:
    """The evidence of one ride.

    ``fit`` has the coefficients ``gain`` (1) and ``zero`` (N·m), ``fit_watts`` also ``watts`` (W): the unit over the
    reference. ``typical_w`` and ``typical_nm`` are the mean power and torque of the ride. ``cadence_known``: else
    85 rpm stand for it. ``unit_step_w``: see ``agreement.resolution``. ``time_model`` is how the bias goes along the
    ride; where it changes, gain and zero are those of the ride's end. ``episodes`` were left out of all of it.
    """

    fit: WanderingFit
    fit_watts: WanderingFit
    anatomy: Anatomy
    response: ResponseFit
    fluctuation: Fluctuation | None
    unit_step_w: float | None
    typical_w: float
    typical_nm: float
    cadence_known: bool
    reference_uncertainty_pct: float
    left_share_of: MeterSide | None = None
    time_model: TimeModel | None = None
    episodes: int = 0
    ridden: Ridden | None = None
    reference: MeterFacts = field(default_factory=MeterFacts)
    unit: MeterFacts = field(default_factory=MeterFacts)

    @property
    def reference_uncertainty(self) -> float:
        """Standard uncertainty of the reference's scale, as a share."""
        return self.reference_uncertainty_pct / 100

    @cached_property
    def differs(self) -> bool:
        """Whether the meters differ at all, in gain or in zero, beyond chance."""
        return self.alone(0.0, 0.0) < EXCLUDED_BELOW

    @cached_property
    def gain_shown(self) -> bool:
        """Whether a gain is shown whatever the zero is."""
        return self.beside_zero(0.0, 0.0) < EXCLUDED_BELOW

    @cached_property
    def zero_shown(self) -> bool:
        """Whether a zero is shown whatever the gain is."""
        return self._misfit(0.0, 0.0, np.array([True, False])) < EXCLUDED_BELOW

    @property
    def changes(self) -> bool:
        """Whether the bias changes along the ride, so that gain and zero are those of its end."""
        return self.time_model in (TimeModel.LINEAR, TimeModel.SETTLING, TimeModel.STEP)

    @cached_property
    def gain(self) -> float:
        """Gain as a share, the zero fitted with it: the anatomy's own, so that one number is told for one thing."""
        told = self.anatomy.gain_pct.value
        return float(self.fit.mean_covariance()[0][0]) if told is None else told / 100

    @cached_property
    def zero_nm(self) -> float:
        """Zero, N·m, the gain fitted with it: the anatomy's own."""
        told = self.anatomy.zero_nm.value
        return float(self.fit.mean_covariance()[0][1]) if told is None else told

    @cached_property
    def bias(self) -> float:
        """Unit over reference less one at the ride's typical torque, as a share."""
        return self.gain + self.zero_nm / self.typical_nm

    def alone(self, gain: float, gain_sd: float) -> float:
        """Probability of at least this disagreement if there were ``gain`` (give or take ``gain_sd``) and no zero."""
        return self._misfit(gain, gain_sd, np.array([False, False]))

    def beside_zero(self, gain: float, gain_sd: float) -> float:
        """The same for a gain beside any zero."""
        return self._misfit(gain, gain_sd, np.array([False, True]))

    def zero_beside(self, gain_sd: float) -> float:
        """Probability of at least this disagreement if there were a zero of any size and no gain but ``gain_sd``."""
        return self._misfit(0.0, gain_sd, np.array([False, True]))

    def no_zero(self) -> float:
        """Probability of at least this disagreement if there were a gain of any size and no zero."""
        return self._misfit(0.0, 0.0, np.array([True, False]))

    def within_reference(self) -> float:
        """Probability of at least this disagreement if the reference's uncertainty of scale and zero were all."""
        covariance = np.diag([self.reference_uncertainty**2 + GAIN_FLOOR**2, REFERENCE_ZERO_NM**2 + ZERO_FLOOR_NM**2])
        return self.fit.misfit(np.zeros(2), covariance, np.array([False, False]))

    def gain_of(self, gain: float) -> tuple[bool, float]:
        """Whether a story of this gain is allowed, the reference's uncertainty inside, and its misfit.

        Where a gain is shown it has to be this one, whatever the zero; where none is shown for itself, because gain
        and zero cannot be told apart, this gain alone has to account for the difference.
        """
        judge = self.beside_zero if self.gain_shown else self.alone
        misfit = judge(gain, self.reference_uncertainty)
        return self.differs and misfit >= EXCLUDED_BELOW, misfit

    def _misfit(self, gain: float, gain_sd: float, free: FloatArray) -> float:
        covariance = np.diag([gain_sd**2 + GAIN_FLOOR**2, ZERO_FLOOR_NM**2])
        return self.fit.misfit(np.array([gain, 0.0]), covariance, free)
