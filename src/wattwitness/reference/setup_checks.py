"""The checks that a careful tester makes on how a meter was set up, each a finding with a sentence."""

from __future__ import annotations

from collections.abc import Iterator

from wattwitness.model.recording import Notice, Severity
from wattwitness.model.setup import MeterFile, Place, Sides

SAME_LENGTH_MM = 0.05
COMMON_STEP_MM = 2.5
"""Cranks are made in steps of 2.5 mm (common practice, no source)."""

BEDDED_IN_H = 2.0
"""Pedals want a ride or two to settle in their threads before their zero is steady (common practice, no source)."""

LEAST_BATTERY_PCT = 20.0
LEAST_WARM_UP_MIN = 10.0
"""A press-on brake was settled after 6 minutes (Davison et al. 2009), a heavy disc takes longer; ten minutes for a
meter to come to the room's temperature is common practice, no source."""

TEMPERATURE_APART_K = 10.0


def setup_findings(meter: MeterFile, name: str, *, is_reference: bool) -> tuple[Notice, ...]:
    """Everything about the setup of ``meter`` that a result may depend on; ``about`` says whose it is."""
    return tuple(
        Notice(slug=slug, message=f"{name}: {sentence}", severity=severity, about=name)
        for slug, sentence, severity in _findings(meter, is_reference)
    )


def crank_factor(meter: MeterFile) -> float | None:
    """What power has to be multiplied by to put a crank length set wrong right: true over set.

    ``None`` where the file does not ask for it, or where there is nothing to put right.
    """
    crank_set, true = meter.setup.crank_set_mm, meter.setup.crank_true_mm
    if (
        not meter.put_right_crank
        or not _uses_crank_length(meter)
        or crank_set is None
        or true is None
        or abs(crank_set - true) < SAME_LENGTH_MM
    ):
        return None
    return true / crank_set


def _uses_crank_length(meter: MeterFile) -> bool:
    """Whether a crank length set wrong makes it read wrong, as far as is known."""
    return meter.place.uses_crank_length or meter.place is Place.UNKNOWN


def same_bike_findings(reference: MeterFile, unit: MeterFile) -> tuple[Notice, ...]:
    """Two meters on one ride had the same feet on the same cranks: their true lengths must agree."""
    lengths = (reference.setup.crank_true_mm, unit.setup.crank_true_mm)
    if lengths[0] is None or lengths[1] is None or abs(lengths[0] - lengths[1]) < SAME_LENGTH_MM:
        return ()
    message = (
        f"The true crank length is given as {lengths[0]:g} mm for the reference and {lengths[1]:g} mm for the unit; "
        "on one bike it is one length. Measure it."
    )
    return (Notice(slug="crank_true_disagrees", message=message, about="setup"),)


def _findings(meter: MeterFile, is_reference: bool) -> Iterator[tuple[str, str, Severity]]:
    setup = meter.setup
    yield from _crank_length(meter)
    if setup.zero_taken is False:
        yield (
            "zero_not_taken",
            (
                "its zero was not taken before the ride, so a constant torque may be in every watt; take it, "
                "unloaded and as its maker says, before each ride."
            ),
            Severity.WARNING,
        )
    if is_reference and meter.sides in (Sides.LEFT_DOUBLED, Sides.RIGHT_DOUBLED):
        leg = "left" if meter.sides is Sides.LEFT_DOUBLED else "right"
        yield (
            "single_sided_reference",
            (
                f"it measures the {leg} leg and doubles it, so the rider’s own balance is in every bias: with 48 % on "
                "that side it reads 4 % low, with 55 % 10 % high."
            ),
            Severity.WARNING,
        )
    hours = setup.hours_since_fitted
    if meter.place is Place.PEDAL and hours is not None and hours < BEDDED_IN_H:
        yield (
            "pedals_not_bedded_in",
            (
                f"the pedals had been ridden for {hours:g} h since they were fitted; commonly they want a ride or two "
                "and a new zero before they are steady."
            ),
            Severity.WARNING,
        )
    if setup.battery_pct is not None and setup.battery_pct < LEAST_BATTERY_PCT:
        yield "battery_low", f"its battery stood at {setup.battery_pct:g} %.", Severity.WARNING
    if setup.warm_up_min is not None and setup.warm_up_min < LEAST_WARM_UP_MIN:
        yield (
            "not_warmed_up",
            f"it had been warmed up for {setup.warm_up_min:g} min; brake and sensors may still have been settling.",
            Severity.WARNING,
        )
    if setup.temperature_c is not None and setup.zero_temperature_c is not None:
        apart_k = setup.temperature_c - setup.zero_temperature_c
        if abs(apart_k) >= TEMPERATURE_APART_K:
            yield (
                "temperature_since_zero",
                (
                    f"it was {abs(apart_k):g} K {'warmer' if apart_k > 0 else 'colder'} on the ride than when its zero "
                    f"was {'last taken, before an earlier ride' if setup.zero_taken is False else 'taken'}."
                ),
                Severity.WARNING,
            )
    missing = [words for words, value in _recorded(meter) if value is None]
    if missing:
        yield "setup_not_recorded", f"not on record, so not checked: {', '.join(missing)}.", Severity.NOTE


def _crank_length(meter: MeterFile) -> Iterator[tuple[str, str, Severity]]:
    crank_set, true = meter.setup.crank_set_mm, meter.setup.crank_true_mm
    if crank_set is None or true is None or abs(crank_set - true) < SAME_LENGTH_MM:
        return
    if not _uses_crank_length(meter):
        sentence = (
            f"a crank length of {crank_set:g} mm was set and the cranks are {true:g} mm; a meter at the "
            f"{meter.place.value} measures torque and does not use it"
            + (", so nothing was put right, though its description asks for it." if meter.put_right_crank else ".")
        )
        yield "crank_length_mismatch", sentence, Severity.NOTE
        return
    apart_pct = 100 * (crank_set / true - 1)
    steps = abs(crank_set - true) / COMMON_STEP_MM
    known = " (a common step)" if steps >= 1 and abs(steps - round(steps)) < 0.02 else ""
    remedy = (
        f"its power is multiplied by {true:g}/{crank_set:g} in the comparison; the recording stays as it is."
        if meter.put_right_crank
        else "it can be put right afterwards: put_right = true under [crank] in the meter file."
    )
    yield (
        "crank_length_mismatch",
        (
            f"the crank length was set to {crank_set:g} mm and the cranks are {true:g} mm{known}, which makes it read "
            f"{abs(apart_pct):.1f} % {'high' if apart_pct > 0 else 'low'}; {remedy}"
        ),
        Severity.NOTE if meter.put_right_crank else Severity.WARNING,
    )


def _recorded(meter: MeterFile) -> Iterator[tuple[str, object]]:
    setup = meter.setup
    if _uses_crank_length(meter):
        yield "crank length set", setup.crank_set_mm
        yield "crank length measured", setup.crank_true_mm
    yield "zero taken", setup.zero_taken
    yield "firmware", setup.firmware or None
    yield "battery", setup.battery_pct
    yield "temperature", setup.temperature_c
    yield "warm-up", setup.warm_up_min
    if meter.place in (Place.PEDAL, Place.UNKNOWN):
        yield "hours since the pedals were fitted", setup.hours_since_fitted
    yield "place of the meter", None if meter.place is Place.UNKNOWN else meter.place
    yield "which legs it measures", None if meter.sides is Sides.UNKNOWN else meter.sides
