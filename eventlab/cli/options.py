"""Options that several commands share, and what they turn into."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])

STORE = click.option(
    "--store",
    "store",
    required=True,
    metavar="DIR",
    help="The folder of the store, or s3://BUCKET/FOLDER (with AWS_… in the environment).",
)
SITE = click.option("--site", metavar="ID", help="Only this site.")
SITE_OF_LOGS = click.option("--site", metavar="ID", help="The site that the logs belong to.")
TIME_ZONE = click.option(
    "--time-zone", metavar="TZ", help="The time zone of sites that no list tells."
)
ANSWERS = click.option(
    "--answer",
    "answered",
    multiple=True,
    metavar="KEY=VALUE",
    help="The answer to a question; may be given several times.",
)
SINCE = click.option("--since", metavar="D", help="From this date on (UTC, as 2025-03-01).")
UNTIL = click.option("--until", metavar="D", help="Before this date (UTC, as 2025-04-01).")
OUTPUT = click.option(
    "-o",
    "--output",
    "output",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write to this file and not to the terminal.",
)


def form_option(*forms: str) -> Callable[[Command], Command]:
    """Return the ``--format`` option with the forms that a command offers."""
    return click.option(
        "--format",
        "form",
        type=click.Choice(forms),
        default=forms[0],
        show_default=True,
        help="How the result is written.",
    )


def counted(number: int, thing: str) -> str:
    """Write a number with its thing, in the plural where it wants one."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def answers_of(pairs: tuple[str, ...]) -> Mapping[str, str]:
    """Turn ``KEY=VALUE`` words into answers.

    Parameters
    ----------
    pairs : tuple of str
        As typed.

    Returns
    -------
    mapping
        Value by key.

    Raises
    ------
    click.BadParameter
        Where a word has no ``=``.
    """
    answers = {}
    for pair in pairs:
        key, found, value = pair.partition("=")
        if not found or not key:
            raise click.BadParameter(f"{pair!r} is not KEY=VALUE", param_hint="--answer")
        answers[key.strip()] = value.strip()
    return answers


def moment(text: str | None, name: str) -> datetime | None:
    """Turn a date, or a date with a time, into a UTC time.

    Parameters
    ----------
    text : str or None
        ISO 8601; without an offset it is UTC.
    name : str
        The option, for the message.

    Returns
    -------
    datetime or None
        None where nothing was given.

    Raises
    ------
    click.BadParameter
        Where it is no date.
    """
    if text is None:
        return None
    try:
        found = datetime.fromisoformat(text)
        return found.replace(tzinfo=UTC) if found.tzinfo is None else found.astimezone(UTC)
    except (ValueError, OverflowError):
        raise click.BadParameter(
            f"{text!r} is no date; write 2025-03-01 or 2025-03-01T18:30", param_hint=name
        ) from None
