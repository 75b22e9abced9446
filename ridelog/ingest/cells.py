"""Cells of a text table: cut a line into them, and tell what they hold."""

from __future__ import annotations

import csv
import re

WHITESPACE = " "
COMMENT_MARKS = ("#", "%", "//")
_MISSING = ("", "nan", "na", "n/a", "null", "none", "-", "--", "inf", "-inf", "+inf")
_LONGEST_SHOWN = 60
_NUMBER = re.compile(r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?")


def split(text: str, delimiter: str) -> list[str]:
    """Split one line into its cells, without blanks and quotes around them."""
    if delimiter == WHITESPACE:
        return text.split()
    if '"' not in text:
        return [cell.strip() for cell in text.split(delimiter)]
    try:
        cells = next(csv.reader([text], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:  # a stray line end or an endless quote: take the delimiters as they stand
        cells = text.split(delimiter)
    return [cell.strip() for cell in cells]


def shown(text: str) -> str:
    """Cut text from a file short, and make it fit for a message of one line."""
    plain = printable(text)
    return plain if len(plain) <= _LONGEST_SHOWN else f"{plain[:_LONGEST_SHOWN]}..."


def is_comment(text: str) -> bool:
    """Tell whether a line is a remark and not a row."""
    return text.lstrip().startswith(COMMENT_MARKS)


def is_number(cell: str) -> bool:
    """Tell whether a cell holds a number (with decimal point or comma)."""
    return _NUMBER.fullmatch(cell) is not None


def is_missing(cell: str) -> bool:
    """Tell whether a cell says that there is no reading."""
    return cell.lower() in _MISSING


def printable(text: str) -> str:
    """Replace marks that would upset a terminal or break a message in two."""
    return "".join(mark if mark.isprintable() else "\ufffd" for mark in text)
