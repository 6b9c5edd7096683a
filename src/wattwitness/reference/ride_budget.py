"""What makes a ride's bias uncertain, part by part: the reference meter, the way the two were brought together, the
ride itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from wattwitness.model.budget import Budget, Contribution, Distribution, Origin
from wattwitness.model.setup import MeterFile, Place, Sides, StatedUncertainty
from wattwitness.reference.combining import budget_of
from wattwitness.reference.ride_facts import RideFacts
from wattwitness.simulate.defaults import DEFAULTS

METERS_IN_USE_PCT = 3.2
METERS_IN_USE = "spread among 54 meters in use (Maier et al. 2017)"
ZERO_TAKEN_NM = 0.1
ZERO_NOT_TAKEN_NM = 0.5
WARMED_K = 5.0
SLOPE_PCT_PER_K = 0.01
CRANK_MM = 0.5
CRANK_NOT_ON_RECORD_MM = 2.5
LONGEST_USUAL_MM = 172.5

OF_REFERENCE = frozenset({"claim", "zero", "temperature", "crank_length"})
UNITS = {"claim": "%", "zero": "N·m", "temperature": "K", "crank_length": "mm", "transmission": "%"}
"""Contributions that a meter file may state, with the unit each is stated in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Default:
    """What is taken where nothing is stated."""

    half_width: float
    origin: Origin
    source: str
    common: bool
    distribution: Distribution = Distribution.RECTANGULAR


def ride_budget(
    facts: RideFacts,
    *,
    reference: MeterFile | None,
    unit: MeterFile | None,
    given_pct: float | None,
    level: float,
) -> Budget:
    """The budget of the bias of one ride, in percentage points of it.

    ``given_pct`` is a standard uncertainty that the tester states for the whole reference meter. Where neither that nor
    the reference's file states one, the spread among meters in use is taken; both cover the meter's zero, temperature
    and crank length, which then only count if the file states them.
    """
    notes: list[str] = []
    contributions = [
        *_reference_parts(facts, reference, given_pct, notes),
        *_transmission(facts, reference, unit, notes),
        *(part for part in _meeting_parts(facts) if part.name != "response" or part.standard_uncertainty > 0),
    ]
    if facts.response_pct == 0:
        notes.append("No response was taken out of the bias, so none is in the budget.")
    if not facts.cadence_known:
        notes.append("No cadence was recorded; 85 rpm was taken where torque enters.")
    return budget_of(contributions, level=level, of_reference=OF_REFERENCE, notes=tuple(notes))


def meter_budget(meter: MeterFile, *, at_w: float, at_rpm: float, level: float) -> Budget:
    """What the meter itself would make uncertain as the reference of a ride at that power and cadence; nothing of a
    ride is in it.
    """
    facts = RideFacts(
        ratio=1.0,
        mean_w=at_w,
        mean_rpm=at_rpm,
        cadence_known=True,
        clock_s=0.0,
        clock_pct_per_s=0.0,
        response_pct=0.0,
        rounding_pct=0.0,
        statistics_pct=0.0,
        statistics_degrees=math.inf,
    )
    notes: list[str] = []
    parts = list(_reference_parts(facts, meter, None, notes))
    return budget_of(parts, level=level, of_reference=OF_REFERENCE, notes=tuple(notes))


def _reference_parts(
    facts: RideFacts, reference: MeterFile | None, given_pct: float | None, notes: list[str]
) -> Iterator[Contribution]:
    stated = {} if reference is None else dict(reference.stated)
    if given_pct is not None and "claim" in stated:
        del stated["claim"]
        notes.append(
            f"The {given_pct:g} % given for the reference takes the place of the claim in its meter file, and covers "
            "what the claim does not."
        )
    if "claim" in stated and not stated["claim"].says_size:
        del stated["claim"]
        notes.append("The meter file’s claim states no size, so it says nothing: the default for the reference stands.")
    if "claim" in stated:
        claim = _Default(half_width=METERS_IN_USE_PCT, origin=Origin.CLAIMED, source="meter file", common=True)
        yield _part("claim", "the reference’s claim", stated["claim"], claim, facts.ratio)
    else:
        yield _whole_reference(facts, given_pct)
        notes.append(
            "The reference’s uncertainty covers its zero, temperature and crank length; these count beside it only "
            "where a meter file states them."
        )
    covered = "claim" not in stated
    meter = reference or MeterFile()
    wrong = set(_known_wrong(meter, notes))
    for name, title, default, sensitivity in _reference_defaults(facts, meter):
        if name in stated or ((not covered or name in wrong) and default is not None):
            assumed = default or _Default(half_width=0.0, origin=Origin.ASSUMED, source="meter file", common=True)
            yield _part(name, title, stated.get(name), assumed, sensitivity)


def _known_wrong(meter: MeterFile, notes: list[str]) -> Iterator[str]:
    """Contributions that count whatever covers the reference, since its record says that something was not right."""
    if meter.setup.zero_taken is False:
        yield "zero"
    apart_mm = _crank_off_mm(meter)
    if apart_mm:
        yield "crank_length"
        notes.append(
            f"The reference’s crank length was set {apart_mm:g} mm wrong and was not put right. That is a known error: "
            "it is in the bias, and the budget counts it only as if its sign were not known. Put it right."
        )
    if meter.sides in (Sides.LEFT_DOUBLED, Sides.RIGHT_DOUBLED):
        notes.append(
            "The reference doubles one leg. What the rider’s own balance does to it, 2 % for each percentage point off "
            "50, is not known from this ride and is in no contribution."
        )


def _crank_off_mm(meter: MeterFile) -> float:
    """How far the crank length was set off the true one, and left so; 0 where it was not, or is not known."""
    crank_set, true = meter.setup.crank_set_mm, meter.setup.crank_true_mm
    if crank_set is None or true is None or meter.put_right_crank:
        return 0.0
    return abs(crank_set - true) if meter.place.uses_crank_length or meter.place is Place.UNKNOWN else 0.0


def _whole_reference(facts: RideFacts, given_pct: float | None) -> Contribution:
    return Contribution(
        name="claim",
        title="the reference meter",
        unit="%",
        standard_uncertainty=METERS_IN_USE_PCT if given_pct is None else given_pct,
        sensitivity=facts.ratio,
        distribution=Distribution.NORMAL,
        origin=Origin.ASSUMED if given_pct is None else Origin.CLAIMED,
        source=f"default: {METERS_IN_USE}" if given_pct is None else "given by the tester",
        common=True,
        is_default=given_pct is None,
    )


def _reference_defaults(facts: RideFacts, meter: MeterFile) -> Iterator[tuple[str, str, _Default | None, float]]:
    """Name, title, default and sensitivity of what the reference meter's file may state beside its claim."""
    per_nm = 100 * facts.ratio * facts.mean_rpm * math.pi / 30 / facts.mean_w
    setup = meter.setup
    taken = setup.zero_taken is True
    zero = _Default(
        half_width=ZERO_TAKEN_NM if taken else ZERO_NOT_TAKEN_NM,
        origin=Origin.ASSUMED,
        source="default: a last digit (judgement)" if taken else "default: zero not taken, 0.05 N·m/K over 10 K",
        common=not taken,
    )
    yield "zero", "the reference’s zero", zero, per_nm
    known = setup.temperature_c is not None and setup.zero_temperature_c is not None
    warmed_k = abs((setup.temperature_c or 0.0) - (setup.zero_temperature_c or 0.0)) if known else WARMED_K
    tempco = DEFAULTS["zero_tempco_nm_per_k"]
    temperature = _Default(
        half_width=warmed_k,
        origin=Origin.MEASURED if known else Origin.ASSUMED,
        source=("meter file" if known else f"default: ±{WARMED_K:g} K since the zero was taken")
        + f"; {tempco.value:g} N·m/K ({tempco.source}) and {SLOPE_PCT_PER_K:g} %/K",
        common=False,
    )
    sensitivity = math.hypot(tempco.value * per_nm, SLOPE_PCT_PER_K * facts.ratio)
    yield "temperature", "the reference’s temperature", temperature, sensitivity
    length_mm = setup.crank_true_mm or setup.crank_set_mm or LONGEST_USUAL_MM
    on_record = setup.crank_true_mm is not None
    crank = _Default(
        half_width=CRANK_MM + _crank_off_mm(meter) if on_record else CRANK_NOT_ON_RECORD_MM,
        origin=Origin.ASSUMED,
        source="default: as stamped on the crank" if on_record else "default: true length not on record, one step",
        common=True,
    )
    uses_it = meter.place.uses_crank_length or meter.place is Place.UNKNOWN
    yield "crank_length", "the reference’s crank length", crank if uses_it else None, 100 * facts.ratio / length_mm


def _transmission(
    facts: RideFacts, reference: MeterFile | None, unit: MeterFile | None, notes: list[str]
) -> Iterator[Contribution]:
    """What the transmission between the two takes is known only so well, where one lies between them."""
    places = [Place.UNKNOWN if meter is None else meter.place for meter in (reference, unit)]
    behind = [place.behind_transmission for place in places]
    stated = None
    for meter in (reference, unit):
        stated = stated or (meter.stated.get("transmission") if meter is not None else None)
    if None in behind and stated is None:
        notes.append(
            "Where the two meters take the power is not on record: a transmission between them may take 1 to 4 %, "
            "which would be in the bias and is in no contribution."
        )
        return
    if behind[0] == behind[1] and stated is None:
        return
    fixed, share = DEFAULTS["transmission_loss_w"], DEFAULTS["transmission_loss_pct"]
    expected_pct = 100 * fixed.value / facts.mean_w + share.value
    half_pct = (100 * (fixed.high - fixed.low) / facts.mean_w + share.high - share.low) / 2
    notes.append(
        f"A transmission lies between the two meters: it is expected to take about {expected_pct:.1f} % at this power. "
        "That is in the bias and was not taken out."
    )
    default = _Default(half_width=half_pct, origin=Origin.ASSUMED, source=f"default: {fixed.source}", common=True)
    yield _part("transmission", "the transmission between them", stated, default, facts.ratio)


def _meeting_parts(facts: RideFacts) -> Iterator[Contribution]:
    """What comes of bringing two recordings together, and of the ride being only so long."""
    clock = "given by hand: judged good to half a second" if facts.clock_by_hand else "fit of the clocks"
    supposed = {"sampling", "clock"} if facts.clock_by_hand else {"sampling"}
    rows = (
        ("clock", "the clock", "s", facts.clock_s, facts.clock_pct_per_s, clock, math.inf),
        ("response", "the response", "%", facts.response_pct / math.sqrt(3), 1.0, "bias without it", math.inf),
        ("sampling", "whole watts", "%", facts.rounding_pct, facts.ratio, "displays of 1 W", math.inf),
        (
            "statistics",
            "the statistics of this ride",
            "%",
            facts.statistics_pct,
            1.0,
            "wander along it",
            facts.statistics_degrees,
        ),
    )
    for name, title, unit, standard, sensitivity, source, degrees in rows:
        yield Contribution(
            name=name,
            title=title,
            unit=unit,
            standard_uncertainty=standard,
            sensitivity=sensitivity,
            distribution=Distribution.RECTANGULAR if name == "response" else Distribution.NORMAL,
            origin=Origin.ASSUMED if name in supposed else Origin.MEASURED,
            source=source,
            degrees=degrees,
        )


def _part(
    name: str, title: str, stated: StatedUncertainty | None, default: _Default, sensitivity: float
) -> Contribution:
    """A contribution as stated, with the default for whatever is not."""
    item = stated or StatedUncertainty()
    says_size = item.says_size
    distribution = item.distribution or (
        Distribution.NORMAL if item.standard_uncertainty is not None else default.distribution
    )
    half_width = default.half_width if item.half_width is None else item.half_width
    standard = half_width / distribution.divisor if item.standard_uncertainty is None else item.standard_uncertainty
    return Contribution(
        name=name,
        title=title,
        unit=UNITS[name],
        standard_uncertainty=standard,
        sensitivity=sensitivity,
        distribution=distribution,
        origin=item.origin or (Origin.CLAIMED if says_size else default.origin),
        source=item.source or ("meter file" if says_size else default.source),
        degrees=math.inf if item.degrees is None else item.degrees,
        common=default.common if item.common is None else item.common,
        is_default=not says_size,
    )
