"""What commands do with a result: tables on standard output, files, progress on standard error."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ridelog.cli.options import STANDARD_OUTPUT

if TYPE_CHECKING:
    from rich.console import RenderableType


def check_outputs(json_file: Path | None, report_file: Path | None = None) -> None:
    """Refuse output names that would overwrite something, before the work is done.

    Parameters
    ----------
    json_file : Path or None
        Where JSON shall go.
    report_file : Path or None
        Where the page shall go.

    Raises
    ------
    FileError
        One of them is taken by something that is not a result of ours.
    """
    from ridelog.report.write import check_result_file

    if json_file is not None and json_file != STANDARD_OUTPUT:
        check_result_file(json_file, "JSON")
    if report_file is not None:
        check_result_file(report_file, "page")


def show(renderable: RenderableType) -> None:
    """Print tables and text on standard output; plain where it is not a terminal.

    Parameters
    ----------
    renderable : RenderableType
        What to print.
    """
    from rich.console import Console

    Console(highlight=False, emoji=False, markup=False).print(renderable)


def write_json(json_file: Path, document: dict[str, Any]) -> None:
    """Write a JSON document to a file, or alone on standard output.

    Parameters
    ----------
    json_file : Path
        Where to; ``-`` for standard output.
    document : dict
        The document.
    """
    from ridelog.report.as_json import dump
    from ridelog.report.write import write_result

    if json_file == STANDARD_OUTPUT:
        click.echo(dump(document), nl=False)
        return
    write_result(json_file, dump(document), "JSON")
    click.echo(f"JSON written to {json_file}", err=True)


def write_page(report_file: Path, page: str) -> None:
    """Write a page and say where.

    Parameters
    ----------
    report_file : Path
        Where to.
    page : str
        The HTML.
    """
    from ridelog.report.write import write_result

    write_result(report_file, page, "page")
    click.echo(f"page written to {report_file}", err=True)


@contextmanager
def progress(words: str) -> Iterator[Callable[[str], None]]:
    """Show on a terminal what is being done, and leave no trace of it.

    Parameters
    ----------
    words : str
        The first thing to show.
    """
    if not sys.stderr.isatty():
        yield lambda line: None
        return
    from rich.console import Console
    from rich.markup import escape

    with Console(stderr=True).status(escape(words)) as status:
        yield lambda line: status.update(escape(line))


def as_percent(tell: Callable[[str], None], words: str) -> Callable[[float], None]:
    """Turn shares done into a line with a percentage.

    Parameters
    ----------
    tell : callable
        Shows a line.
    words : str
        What is being done.
    """
    return lambda share: tell(f"{words}: {share:.0%} read" if share < 1 else words)
