"""``wattwitness correct``: a corrected copy of a recording."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("files", nargs=-1, metavar="[STUDY.json] RECORDING", type=click.Path(path_type=Path))
@click.option("--gain", type=float, metavar="NUMBER", help="The unit's gain, 1 where it reads right. Default: 1.")
@click.option("--zero-nm", type=float, metavar="NUMBER", help="The unit's zero error, in N·m. Default: 0.")
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The copy to write; it ends in .csv or .fit.",
)
@click.option("--mapping", type=click.Path(path_type=Path), metavar="FILE", help="A saved column mapping for a table.")
@click.option("--replace", is_flag=True, help="Replace the copy if it is there already; never the original.")
def correct(
    files: tuple[Path, ...],
    gain: float | None,
    zero_nm: float | None,
    out: Path,
    mapping: Path | None,
    replace: bool,
) -> int:
    """Write a corrected copy of a unit's recording, by the correction of a study or by a gain and a zero given.

    STUDY.json is what “wattwitness study FOLDER --format json” printed. The copy says inside that it is corrected, by
    what formula and from which original, which is never touched.

    Exit status: 0 the copy was written; 2 usage, or the recording cannot be corrected.
    """
    from wattwitness.workflows.correct import correction_by_hand, correction_of_study, write_corrected_copy

    study = files[0] if len(files) == 2 else None
    by_hand = gain is not None or zero_nm is not None
    if len(files) != (1 if by_hand else 2):
        raise click.UsageError("Name a study and a recording, or a recording alone with --gain, --zero-nm or both.")
    if by_hand:
        applied = correction_by_hand(1.0 if gain is None else gain, 0.0 if zero_nm is None else zero_nm)
    else:
        applied = correction_of_study(files[0])
    report = write_corrected_copy(str(files[-1]), out, applied, mapping=mapping, study=study, replace=replace)
    from wattwitness.sections.corrected import corrected_lines

    for line in corrected_lines(report, out.name):
        click.echo(line)
    return 0
