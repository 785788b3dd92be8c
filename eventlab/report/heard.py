"""How often something was heard of: rhythms of points, cells in service, reports week by week."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from eventlab.report.words import count, percent, plain, span
from eventlab.schema import Witness

_YEAR_D = 365.25


def rhythm_sentence(row: Mapping[str, Any]) -> str:
    """Say on how many days a point was seen, and since when it is not; with a blank before it.

    Parameters
    ----------
    row : mapping
        ``seen_days``, ``of_days``, ``silent_days``; null where no rhythm is known.

    Returns
    -------
    str
        Empty where nothing is known.
    """
    if row["of_days"] is None:
        return ""
    told = (
        f" Seen on {count(row['seen_days'], 'day')} of {plain(row['of_days'])} on which others "
        "were about"
    )
    if row["silent_days"]:
        told += f", and not on the last {'one' if row['silent_days'] == 1 else row['silent_days']}"
    return f"{told}."


def cell_sentence(row: Mapping[str, Any]) -> str:
    """Say how old a cell is and how long it may last; with a blank before it.

    Parameters
    ----------
    row : mapping
        ``why``; ``age_days``, ``left_days``, ``early_days``, null where it is not known.

    Returns
    -------
    str
        Empty where nothing is known.
    """
    if row["age_days"] is None:
        return ""
    told = f" Its cell is {span(row['age_days'] * 24)} old"
    if row["why"] == "stands":
        return f"{told}."
    if row["left_days"] is None:
        return f"{told}; too few cells of its family failed to say how long it lasts."
    early = f", and one in ten less than {_left(row['early_days'])}" if row["early_days"] else ""
    return f"{told}; by those that failed half last {_left(row['left_days'])} more{early}."


def _left(days: float) -> str:
    return f"{plain(days / _YEAR_D, 1)} years" if days > 2 * _YEAR_D else span(days * 24)


def heard_sentence(row: Mapping[str, Any]) -> str:
    """Say how many of the test reports that were due came, and what that proves.

    Parameters
    ----------
    row : mapping
        As `analysis.availability.overall` gives it.

    Returns
    -------
    str
        Against the share of the class in settings.
    """
    came = row["due"] - row["missed"]
    who = "The centre received" if row["witness"] == Witness.RECEIVER else "The panel logged"
    path = f" over path {row['path']}" if row["path"] else ""
    limits = f"{percent(row['low'])} to {percent(row['high'])}"
    told = (
        f"{who} {plain(came)} of the {count(row['due'], 'test report')} that were due{path}: "
        f"{percent(row['share'])} ({limits})"
    )
    if row["late"]:
        told += f", {plain(row['late'])} of them late"
    if row["witness"] == Witness.PANEL:
        # A class is asked of what arrives.
        return f"{told}. The panel's log tells what was sent, not what arrived."
    wanted = percent(row["wanted"])
    if row["below"]:
        return f"{told}. That is less than the {wanted} of the chosen class, beyond chance."
    if row["low"] >= row["wanted"]:
        return f"{told}. That keeps the {wanted} of the chosen class, as far as reports can show."
    return f"{told}. So few reports cannot show whether the {wanted} of the chosen class is kept."


def series_name(row: Mapping[str, Any]) -> str:
    """Name a series of reports: who tells it, over which path."""
    who = "received by the centre" if row["witness"] == Witness.RECEIVER else "sent by the panel"
    return f"{who}, path {row['path']}" if row["path"] else who


def heard_in_words(overall: pl.DataFrame) -> pl.DataFrame:
    """Name each series of reports and say what it proves: adds ``name`` and ``says``."""
    rows = [(series_name(row), heard_sentence(row)) for row in overall.iter_rows(named=True)]
    schema = {"name": pl.String, "says": pl.String}
    return overall.hstack(pl.DataFrame(rows, schema=schema, orient="row"))
