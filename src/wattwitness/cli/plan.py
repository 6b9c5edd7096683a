"""``wattwitness plan``: what to ride, how often, and what it would decide."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wattwitness.cli.numbers import Between
from wattwitness.model.claim import Claim, ClaimStatus, DecisionRule

if TYPE_CHECKING:
    from wattwitness.plan.assemble import PlanQuestion

Output = click.Path(path_type=Path)
ORDERS = ("a", "b")


@click.command()
@click.option("--limit-pct", type=Between(0, 100, min_open=True), metavar="NUMBER", help="The claimed limit.")
@click.option("--claim", "claim_name", metavar="NAME", help="A published limit, by its name in the documentation.")
@click.option(
    "--reference-uncertainty-pct",
    type=Between(0, 50),
    metavar="NUMBER",
    help="Standard uncertainty of the reference, in %. Default: 3.2, the spread among meters in use.",
)
@click.option(
    "--threshold-w",
    type=Between(30, 1000),
    metavar="NUMBER",
    help="The rider's threshold power, in W, which the steps stay under. Default: 200, which is nobody's own.",
)
@click.option(
    "--spread-pct",
    type=Between(0, 50),
    metavar="NUMBER",
    help="What is known of the standard deviation between rides, in %. Default: anything from 0.5 to 1.5.",
)
@click.option("--bias-pct", type=Between(-90, 90), default=0.0, metavar="NUMBER", help="Bias to reckon with.")
@click.option(
    "--bias-sd-pct",
    type=Between(0, 50),
    metavar="NUMBER",
    help="How far the bias may be from that, as a standard deviation. Default: 3.2, as among meters in use.",
)
@click.option(
    "--chance",
    type=Between(0.01, 0.999),
    default=0.8,
    metavar="NUMBER",
    help="How probable a firm verdict is to be. Default: 0.8.",
)
@click.option(
    "--rule",
    type=click.Choice([rule.value for rule in DecisionRule]),
    default=DecisionRule.CONFORMANCE_PROBABILITY.value,
    help="Decision rule. Default: conformance_probability.",
)
@click.option(
    "--risk",
    type=Between(0.001, 0.5),
    default=0.05,
    metavar="NUMBER",
    help="Largest chance of a wrong firm verdict. Default: 0.05.",
)
@click.option("--rides", type=click.IntRange(2, 100), metavar="NUMBER", help="Plan for so many rides.")
@click.option(
    "--highest-pct",
    type=Between(50, 120),
    default=90.0,
    metavar="NUMBER",
    help="The hardest step, in % of the threshold power. Above 100 only for trained riders. Default: 90.",
)
@click.option(
    "--cadence-rpm",
    "cadences_rpm",
    type=Between(30, 130),
    multiple=True,
    metavar="NUMBER",
    help="A cadence of the steps; repeat it for each. Default: 65, 85 and 100.",
)
@click.option("--step-s", type=Between(30, 1200), default=120.0, metavar="NUMBER", help="Length of a step.")
@click.option("--repeats", type=click.IntRange(1, 6), default=2, metavar="NUMBER", help="Times each step is ridden.")
@click.option(
    "--warm-up-min", type=Between(5, 60), default=10.0, metavar="NUMBER", help="Length of the warm-up, in min."
)
@click.option(
    "--seed", type=click.IntRange(0, 2**31), default=1, metavar="NUMBER", help="Seed of the order. Default: 1."
)
@click.option(
    "--steps",
    "steps_path",
    type=Output,
    metavar="FILE",
    help="A TOML list of the steps of a ride of your own, to be judged instead of a planned one.",
)
@click.option("--html", "html_path", type=Output, metavar="FILE", help="Also write the ride sheet as a page to print.")
@click.option("--workout", "workout_path", type=Output, metavar="FILE", help="Also write one order as a FIT workout.")
@click.option("--order", type=click.Choice(ORDERS), default="a", help="The order the workout holds. Default: a.")
@click.option(
    "--format",
    "output_format",
    type=click.Choice(["text", "json"]),
    default="text",
    help="What to print. Default: text.",
)
@click.option("--replace", is_flag=True, help="Replace files that are there already.")
def plan(
    html_path: Path | None,
    workout_path: Path | None,
    order: str,
    output_format: str,
    replace: bool,
    **asked: Any,
) -> int:
    """Plan rides for a verdict: steps, order and number, what they tell apart, and the chance of each verdict.

    Prints a ride sheet. Hard efforts can hurt: the steps stay below the threshold power stated, and whoever is not used
    to exercise, ill, or has signs of disease asks a physician first.

    Exit status: 0 a plan was made; 2 usage.
    """
    from wattwitness.workflows.plan import check_outputs, plan_study, publish_plan

    check_outputs([html_path, workout_path], replace=replace)
    made = plan_study(_question(**asked))
    publish_plan(
        made,
        html_path=html_path,
        workout_path=workout_path,
        order=ORDERS.index(order) % len(made.orders),
        made_utc_s=time.time(),
        replace=replace,
    )
    if output_format == "json":
        from wattwitness.render.plan_json import plan_text

        click.echo(plan_text(made))
    else:
        from wattwitness.render.terminal import print_plan, standard_console

        print_plan(made, standard_console())
    return 0


def _question(
    *,
    limit_pct: float | None,
    claim_name: str | None,
    chance: float,
    rule: str,
    risk: float,
    highest_pct: float,
    cadences_rpm: tuple[float, ...],
    warm_up_min: float,
    steps_path: Path | None,
    **known: Any,
) -> PlanQuestion:
    """What the options ask; those of the same name go on as they are."""
    from wattwitness.conformity.rules import RuleSettings
    from wattwitness.plan.assemble import PlanQuestion
    from wattwitness.workflows.plan import ride_of_steps
    from wattwitness.workflows.study import published_claim

    if limit_pct is not None and claim_name is not None:
        raise click.UsageError("Give --limit-pct or --claim, not both.")
    claim = None if claim_name is None else published_claim(claim_name)
    if limit_pct is not None:
        claim = Claim(name="stated", source="the limit stated", status=ClaimStatus.STATED, limit_pct=limit_pct)
    if cadences_rpm:
        known["cadences_rpm"] = cadences_rpm
    return PlanQuestion(
        claim=claim,
        rule=RuleSettings(rule=DecisionRule(rule), risk=risk),
        asked_chance=chance,
        highest_share=highest_pct / 100,
        warm_up_s=60 * warm_up_min,
        own=None if steps_path is None else ride_of_steps(steps_path),
        **known,
    )
