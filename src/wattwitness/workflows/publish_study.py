"""Write what a study is published as."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.study import Study
from wattwitness.workflows.anonymous_study import without_names
from wattwitness.workflows.outputs import path_of, refuse_overwriting

PAGES = (".html", ".htm")


WHOSE = "The page would overwrite one of the recordings, or a file that describes them."


def check_page(
    html_path: Path | None,
    listed: ListedStudy,
    given: Path,
    unused: Sequence[tuple[str, str]] = (),
    *,
    replace: bool,
) -> None:
    """Refuse, before any ride is compared, a page that would overwrite something. Raises OutputExists.

    Never written over, not even with ``replace``, are the recordings and what describes them, the list ``given``, and
    what else was found in a folder (``unused``) but for pages.
    """
    if html_path is None:
        return
    recordings = [path for ride in listed.rides for file in (ride.reference, ride.unit) for path in path_of(file)]
    beside = [
        path
        for ride in listed.rides
        for path in (ride.mapping, ride.reference_mapping, ride.unit_mapping, ride.reference_meter, ride.unit_meter)
        if path is not None
    ]
    rest = [path for file, _ in unused for path in path_of(file) if path.suffix.lower() not in PAGES]
    refuse_overwriting(html_path, [given, *recordings, *beside, *rest], replace=replace, overwrites=WHOSE)


def check_bench_page(html_path: Path | None, bench: Path, *, replace: bool) -> None:
    """The same for a page of a bench: nothing inside it is a place for pages. Raises OutputExists."""
    if html_path is None:
        return
    inside = html_path.resolve().is_relative_to(bench.resolve())
    refuse_overwriting(
        html_path, [html_path] if inside else [], replace=replace, overwrites="The page would stand inside the bench."
    )


def publish_study(
    study: Study, unused: Sequence[tuple[str, str]], *, html_path: Path | None, replace: bool, with_names: bool = False
) -> None:
    """Write the page that was asked for, without names of riders and files unless they are to stay.

    Raises OutputExists, OutputNotWritable.
    """
    if html_path is None:
        return
    from wattwitness.render.html import write_html
    from wattwitness.sections.publication import of_study

    if not with_names:
        study, unused = without_names(study, unused)
    write_html(of_study(study, unused), html_path, replace=replace)
