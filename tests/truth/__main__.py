"""Run the truth topics and write their tables as one page: ``python -m tests.truth --full --out PAGE``."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.truth.protocol import TruthTable, TruthTopic, run_topic

HEAD = """# Measured: rides with a known truth

Simulated rides whose offset, drift, bias and response are known are put through the tool, and the answers are held
against what is known. Made by `make truth`; the same seeds give the same table.
"""


def topic_names() -> list[str]:
    """The topics there are, from the modules ``truth_<topic>.py`` beside this file."""
    return sorted(path.stem.removeprefix("truth_") for path in Path(__file__).parent.glob("truth_*.py"))


def load_topic(name: str) -> TruthTopic[Any, Any]:
    """Import the module of the topic ``name`` and return its TOPIC."""
    topic = importlib.import_module(f"tests.truth.truth_{name}").TOPIC
    if not isinstance(topic, TruthTopic) or topic.name != name:
        raise TypeError(f"truth_{name}.py needs TOPIC = TruthTopic(name={name!r}, ...)")
    return topic


def as_markdown(table: TruthTable) -> str:
    """The table, its claims and its notes as a section of a page."""
    lines = [f"## {table.title}", "", "| claim | seen | held |", "| --- | --- | --- |"]
    lines += [f"| {claim.text} | {claim.seen} | {'yes' if claim.held else '**no**'} |" for claim in table.claims]
    lines += ["", f"| {' | '.join(table.columns)} |", f"|{' --- |' * len(table.columns)}"]
    lines += [f"| {' | '.join(row)} |" for row in table.rows]
    for note in table.notes:
        lines += ["", note]
    return "\n".join(lines) + "\n"


def parse(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Read the command's options."""
    parser = argparse.ArgumentParser(prog="python -m tests.truth", description=__doc__)
    parser.add_argument("topics", nargs="*", choices=[*topic_names(), []], help="which topics; all if none is named")
    parser.add_argument("--full", action="store_true", help="the whole sample, not the small one of the tests")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1, help="how many at once")
    parser.add_argument("--out", type=Path, help="the page to write; printed if left out")
    return parser.parse_args(arguments)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the topics asked for; return 1 if a claim did not hold, 2 if there was none to run."""
    options = parse(arguments)
    sections, broken = [HEAD], []
    for name in options.topics or topic_names():
        started = time.monotonic()
        table = run_topic(load_topic(name), full=options.full, processes=options.processes)
        print(f"{name}: {time.monotonic() - started:.0f} s", file=sys.stderr)
        sections.append(as_markdown(table))
        broken += [f"{name}: {sentence}" for sentence in table.broken()]
    if len(sections) == 1:
        print("There is no truth topic to run.", file=sys.stderr)
        return 2
    page = "\n".join(sections)
    if options.out is None:
        print(page)
    else:
        options.out.parent.mkdir(parents=True, exist_ok=True)
        options.out.write_text(page, encoding="utf-8")
    for sentence in broken:
        print(sentence, file=sys.stderr)
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
