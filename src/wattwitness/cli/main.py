"""The command ``wattwitness``: its commands, and the one place where errors become words."""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from wattwitness import __version__
from wattwitness.cli.alone import alone
from wattwitness.cli.bench import bench
from wattwitness.cli.compare import compare
from wattwitness.cli.correct import correct
from wattwitness.cli.demo import demo
from wattwitness.cli.evidence import evidence
from wattwitness.cli.inspect import inspect
from wattwitness.cli.plan import plan
from wattwitness.cli.publish import publish
from wattwitness.cli.schema import schema
from wattwitness.cli.serve import serve
from wattwitness.cli.simulate import simulate
from wattwitness.cli.study import study
from wattwitness.cli.weigh import weigh
from wattwitness.model.errors import OutputNotWritable, WattwitnessError

# The matrices here are small: threads that wait for one another cost several times what they save.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

INTERRUPTED = 130
USAGE = 2
DISK_IS_FULL = (errno.ENOSPC, errno.EDQUOT)


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="wattwitness")
def commands() -> None:
    """Find out, and show, whether the watts a stationary bike displays can be trusted."""


for command in (
    compare,
    alone,
    evidence,
    inspect,
    weigh,
    study,
    bench,
    serve,
    publish,
    plan,
    correct,
    simulate,
    demo,
    schema,
):
    commands.add_command(command)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and end the process with its status; no traceback reaches the user."""
    sys.exit(run(arguments))


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status: 0 something was produced, 1 a stated limit was broken, 2 usage or
    unreadable input, 3 nothing could be concluded.
    """
    try:
        status: Any = commands.main(args=arguments, prog_name="wattwitness", standalone_mode=False)
    except WattwitnessError as error:
        _say(error)
        return error.exit_code
    except click.exceptions.Abort:
        click.echo("stopped: nothing was written that was not finished", err=True)
        return INTERRUPTED
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except KeyboardInterrupt:
        click.echo("stopped: nothing was written that was not finished", err=True)
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has seen enough; Python must not complain about the closed pipe at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if os.environ.get("WATTWITNESS_TRACEBACK"):
            raise
        return _unexpected(error)
    return status if isinstance(status, int) else 0


def _unexpected(error: Exception) -> int:
    """Say what went wrong where no room foresaw it: a disk without room for what is printed, or a fault of ours."""
    if isinstance(error, OSError) and error.errno in DISK_IS_FULL:
        _say(
            OutputNotWritable(
                f"What was to be printed cannot be written: {error.strerror}.",
                where="standard output",
                hint="Make room on the disk, or write somewhere else.",
            )
        )
        # Python writes once more at exit, and would complain once more.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return USAGE
    click.echo(
        f"error: this is a fault of wattwitness itself ({type(error).__name__}: {error})\n"
        "what to do: your files are unchanged. Run the same command with WATTWITNESS_TRACEBACK=1 and report "
        "what it prints.",
        err=True,
    )
    return USAGE


def _say(error: WattwitnessError) -> None:
    lines = [f"error: {error.what}"]
    if error.where:
        lines.append(f"where: {error.where}")
    lines += [f"what to do: {error.hint}", f"more: docs/errors/{error.slug}.md"]
    click.echo("\n".join(lines), err=True)


if __name__ == "__main__":
    main()
