"""Options that say what is asked of a unit: they stand for the words of a list of rides, and win over them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from wattwitness.cli.numbers import Between
from wattwitness.model.claim import DecisionRule

F = TypeVar("F", bound=Callable[..., Any])
Option = Callable[[Any], Any]

WORDS = ("claim", "rule", "risk", "at_w", "at_rpm", "threshold_w", "zones", "before", "after", "margin_pct")
OPTIONS: tuple[Option, ...] = (
    click.option(
        "--question",
        type=click.Path(path_type=Path),
        metavar="FILE.toml",
        help="What is asked, in a file: claim, zones, field and the rest, as in a list of rides.",
    ),
    click.option("--claim", metavar="NAME", help="A published limit to judge by, by its name in the documentation."),
    click.option(
        "--rule",
        type=click.Choice([rule.value for rule in DecisionRule]),
        help="Decision rule. Default: conformance_probability.",
    ),
    click.option("--risk", type=Between(0.001, 0.5), metavar="NUMBER", help="Largest chance of a wrong firm verdict."),
    click.option("--at-w", type=Between(20, 2000), metavar="NUMBER", help="Power to carry every ride to, in W."),
    click.option("--at-rpm", type=Between(20, 200), metavar="NUMBER", help="Cadence to carry every ride to."),
    click.option("--threshold-w", type=Between(30, 1000), metavar="NUMBER", help="The rider's threshold power."),
    click.option("--zones", metavar="NAME", help="Zones that are known, by their name. Default: seven_levels."),
    click.option("--before", metavar="TEXT", help="Group of rides, or firmware, before a change."),
    click.option("--after", metavar="TEXT", help="Group of rides, or firmware, after it: the unit as it is now."),
    click.option(
        "--margin-pct",
        type=Between(0.01, 50),
        metavar="NUMBER",
        help="Change of bias, in percent, that would not matter.",
    ),
)

processes_option = click.option(
    "--processes", type=click.IntRange(1, 256), metavar="NUMBER", help="Rides at once. Default: all cores."
)


def with_options(command: F, options: Sequence[Option]) -> F:
    """Give ``command`` the options, in their order."""
    for option in reversed(options):
        command = option(command)
    return command


def question_options(command: F) -> F:
    """Give ``command`` what may be asked of a study."""
    return with_options(command, OPTIONS)


def asked_of(options: dict[str, Any]) -> dict[str, Any]:
    """Take what was asked out of ``options``, in the words of a list of rides; what was not given is not there.

    Raises UnknownName, StudyFileInvalid.
    """
    from wattwitness.workflows.study import published_claim, question_in

    given = {name: options.pop(name) for name in WORDS}
    file = options.pop("question")
    asked = {} if file is None else question_in(file)
    asked |= {name: value for name, value in given.items() if value is not None}
    if given["claim"] is not None:
        asked["claim"] = published_claim(given["claim"])
    if given["rule"] is not None:
        asked["rule"] = DecisionRule(given["rule"])
    if given["zones"] is not None:
        asked["own_zones"] = None
    return asked
