"""Write values into a car file's text, and leave the owner's comments and order as they are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridelog.errors import CarFileError

if TYPE_CHECKING:
    from tomlkit.toml_document import TOMLDocument

TomlValue = str | int | float | Sequence[Any] | Mapping[str, Any]


def inline(values: Mapping[str, TomlValue]) -> str:
    """Write a section in one line: ``{ column = "A0", unit = "V" }``.

    Parameters
    ----------
    values : mapping
        Keys and values.
    """
    return str(_inline_table(values).as_string())


def with_channel(
    path: Path, text: str, channel: str, values: Mapping[str, TomlValue | None]
) -> str:
    """Set keys of a channel under ``[logger.channels]``.

    Parameters
    ----------
    path : Path
        The car file, for messages.
    text : str
        Its content.
    channel : str
        The channel's name.
    values : mapping
        Keys to set; those with None are taken out.

    Returns
    -------
    str
        The content with that change and no other.

    Raises
    ------
    CarFileError
        When the text is not TOML, or what should be a section is none.
    """
    document = _parsed(path, text)
    channels = _section(path, _section(path, document, "logger"), "channels")
    if channel not in channels:
        kept = {key: value for key, value in values.items() if value is not None}
        channels[channel] = _inline_table(kept)
        return document.as_string()
    entry = channels[channel]
    if not isinstance(entry, dict):
        raise CarFileError(path, (f"logger.channels.{channel}: not a section; mend it first",))
    _set(entry, values)
    return document.as_string()


def with_value(path: Path, text: str, section: str, key: str, value: TomlValue) -> str:
    """Set one key of a section such as ``[front]``.

    Parameters
    ----------
    path : Path
        The car file, for messages.
    text : str
        Its content.
    section, key : str
        Which one.
    value : str, number, list or mapping
        What to write.

    Raises
    ------
    CarFileError
        When the text is not TOML, or what should be a section is none.
    """
    document = _parsed(path, text)
    _set(_section(path, document, section), {key: value})
    return document.as_string()


def channel_section(path: Path, text: str, channel: str) -> dict[str, Any]:
    """Read what a car file says of a channel; empty where it says nothing.

    Parameters
    ----------
    path : Path
        The car file, for messages.
    text : str
        Its content.
    channel : str
        The channel's name.

    Raises
    ------
    CarFileError
        When the text is not TOML.
    """
    content: Any = _parsed(path, text).unwrap()
    for key in ("logger", "channels", channel):
        content = content.get(key, {}) if isinstance(content, dict) else {}
    return content if isinstance(content, dict) else {}


def _parsed(path: Path, text: str) -> TOMLDocument:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text)
    except (TOMLKitError, RecursionError) as error:
        raise CarFileError(path, (f"not TOML: {error}",)) from None


def _section(path: Path, parent: Any, name: str) -> Any:
    """Find a section, or add an empty one at the end."""
    import tomlkit

    if name not in parent:
        parent[name] = tomlkit.table(is_super_table=name == "logger")
    section = parent[name]
    if not isinstance(section, dict):
        raise CarFileError(path, (f"{name}: not a section; mend it first",))
    return section


def _set(section: Any, values: Mapping[str, TomlValue | None]) -> None:
    """Set or take out keys, the others and their remarks untouched."""
    import tomlkit

    for key, value in values.items():
        if value is None:
            if key in section:
                section.remove(key)
            continue
        item = _inline_table(value) if isinstance(value, Mapping) else tomlkit.item(value)
        if key in section and hasattr(section[key], "trivia") and not isinstance(value, Mapping):
            # A remark behind the value stays behind it.
            item.trivia.comment = section[key].trivia.comment
            item.trivia.comment_ws = section[key].trivia.comment_ws
        section[key] = item


def _inline_table(values: Mapping[str, TomlValue]) -> Any:
    """Make a section in one line, spaced as in our examples."""
    import tomlkit

    table = tomlkit.inline_table()
    for key, value in values.items():
        table.append(key, _inline_table(value) if isinstance(value, Mapping) else value)
    spaced = f"{{ {table.as_string()[1:-1]} }}"
    return tomlkit.parse(f"section = {spaced}\n")["section"]
