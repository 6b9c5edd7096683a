"""How it was judged: rule, reference, settings, and what was left aside."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wattwitness.model.section import Column, Paragraph, Section, Table, Tone
from wattwitness.model.study import Study
from wattwitness.sections.building import Block
from wattwitness.sections.small_print import claim_words, left_out_words, settings_table
from wattwitness.words.names import clean
from wattwitness.words.numbers import number, quantity, typeset

NAME = "method"
TITLE = "How it was judged"


def build(study: Study, unused: Sequence[tuple[str, str]]) -> Section:
    """Sentences on the method, the risk at fixed errors of the reference, and files that were not used."""
    verdict = study.verdicts.trueness
    blocks: list[Block] = [
        Paragraph(
            text=(
                "Rides are taken as draws from many (random effects; between-ride variance by restricted maximum "
                "likelihood and by Paule and Mandel; Hartung and Knapp’s interval). Each ride’s bias is carried to one "
                "power and cadence by its own fitted gain and zero. The reference’s standard uncertainty of "
                f"{quantity(study.reference_uncertainty_pct, '%')} is the same in every ride and is never divided by "
                f"their number. Decision rule: {verdict.rule.value.replace('_', ' ')}."
            )
        ),
        Paragraph(text=typeset(claim_words(study.claim))),
    ]
    if verdict.risks.at_fixed:
        blocks.append(
            Table(
                caption="Probability that the claim is met, if the reference read so much too high",
                columns=(Column(heading="reference’s error", unit="%"), Column(heading="probability", unit="%")),
                rows=tuple(
                    (number(error, 2, signed=True), number(100 * chance, 1)) for error, chance in verdict.risks.at_fixed
                ),
            )
        )
    if unused:
        blocks.append(Paragraph(text="These files belong to no ride, and were not used.", tone=Tone.NOTE))
        blocks.append(
            Table(
                caption="Not used",
                columns=(Column(heading="file", numeric=False), Column(heading="why", numeric=False)),
                rows=tuple((clean(Path(file).name), why) for file, why in unused),
            )
        )
    if study.settings is not None:
        blocks.append(settings_table(study.settings, many_rides=True))
    hashes = [(clean(ride.name), *ride.source_sha256) for ride in study.rides if ride.source_sha256]
    if hashes:
        blocks.append(_hashes(hashes))
    text = f"Made with wattwitness {study.version}. {left_out_words(study, unused)}"
    blocks.append(Paragraph(text=text, tone=Tone.NOTE))
    return Section(name=NAME, title=TITLE, blocks=tuple(blocks))


def _hashes(rows: Sequence[tuple[str, ...]]) -> Table:
    return Table(
        caption="SHA-256 of the recordings",
        columns=tuple(Column(heading=name, numeric=False) for name in ("ride", "reference", "unit")),
        rows=tuple(rows),
        folded=True,
    )
