"""The command group: names the commands, loads one when it is called, words every error."""

from __future__ import annotations

import difflib
import importlib
import os
import sys

import click

from ridelog import __version__
from ridelog.errors import RidelogError

COMMANDS = {
    "demo": ("ridelog.cli.demo", "Try it out on a made-up car."),
    "analyze": ("ridelog.cli.analyze", "What one log tells of the car."),
    "advise": ("ridelog.cli.advise", "What to turn or fit next, from all runs of a car."),
    "plan": ("ridelog.cli.plan", "The drive that will tell most, before you set off."),
    "heights": ("ridelog.cli.heights", "Perch turns for ride heights and corner weights."),
    "compare": ("ridelog.cli.compare", "What changed between two runs?"),
    "check": ("ridelog.cli.check", "Is a log fit to be analyzed?"),
    "record": ("ridelog.cli.record", "Record from a serial logger."),
    "export": ("ridelog.cli.export", "Turn a recording into CSV or Parquet."),
    "join": ("ridelog.cli.join", "Put the parts of one drive into one log."),
    "calibrate": ("ridelog.cli.calibrate", "Sensors and motion ratio, for the car file."),
    "car-schema": ("ridelog.cli.car_schema", "The car file's JSON Schema, for editors."),
}
"""Module and short help by command. The help is kept here so that listing loads no command."""

THREAD_LIMITS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""Read by the linear algebra library when numpy is loaded, so set before any command is."""

EXIT_FAULT = 2
EXIT_STOPPED = 130
"""What a shell reports for a program stopped by Ctrl-C."""


class LazyGroup(click.Group):
    """A group that imports a command's module only when that command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of the commands in the order of a first acquaintance."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command; an unknown name is answered with the nearest known one."""
        if cmd_name not in COMMANDS:
            near = difflib.get_close_matches(cmd_name, COMMANDS, n=1)
            known = f"did you mean {near[0]}?" if near else f"known are {', '.join(COMMANDS)}."
            raise click.UsageError(f"no command {cmd_name!r}; {known}", ctx)
        module = importlib.import_module(COMMANDS[cmd_name][0])
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands from the table alone."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, words) in COMMANDS.items()])


@click.group(
    cls=LazyGroup,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, prog_name="ridelog")
@click.pass_context
def commands(context: click.Context) -> None:
    """From logged drives to the next damper knob and spring.

    Start with:  ridelog demo
    """
    if context.invoked_subcommand is None:
        click.echo(context.get_help())


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and leave with its exit status.

    Parameters
    ----------
    arguments : list of str, optional
        The words after the program's name; those of the process where left out.

    Raises
    ------
    SystemExit
        Always: 0 done, 2 the input or the call is at fault (one line each on standard error).
    """
    # Our matrices are small: a second thread waits for the first and doubles the processor time.
    for name in THREAD_LIMITS:
        os.environ.setdefault(name, "1")
    try:
        status = commands.main(arguments, prog_name="ridelog", standalone_mode=False)
    except click.UsageError as error:
        path = error.ctx.command_path if error.ctx else "ridelog"
        _complain(f"{path}: {error.format_message()} See {path} --help.")
    except click.ClickException as error:
        _complain(error.format_message())
    except RidelogError as error:
        _complain(str(error))
    except MemoryError:
        _complain(
            "ridelog: not enough memory; close other programs, cut the log into shorter drives,"
            " or set RIDELOG_MEMORY_MIB to what it may take"
        )
    except OSError as error:
        _complain(f"{error.filename or 'ridelog'}: {error.strerror or error}")
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        sys.exit(EXIT_STOPPED)
    sys.exit(status if isinstance(status, int) else 0)


def _complain(message: str) -> None:
    click.echo(message, err=True)
    sys.exit(EXIT_FAULT)
