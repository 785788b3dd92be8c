"""How often something was heard of: rhythms of points, cells in service, reports week by week."""

from collections.abc import Mapping
from typing import Any

import polars as pl

from eventlab.report.text import clean, wrapped
from eventlab.report.words import count, percent, plain, span
from eventlab.schema import Witness

_YEAR_D = 365.25
_MONTH_D = _YEAR_D / 12


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
        ``why``; ``age_days``, ``left_days``, ``early_days``, ``life_days``, ``life_low``,
        ``life_high``, ``cells``, ``failed``; null where it is not known.

    Returns
    -------
    str
        Empty where nothing is known.
    """
    if row["age_days"] is None:
        return ""
    told = f" Its cell is {span(row['age_days'] * 24)} old."
    if row["life_days"] is None:
        return f"{told} Too few cells like it were told low to say how long they last."
    told += f" {life_sentence(row)}"
    if row["why"] == "stands" or row["left_days"] is None:
        return told
    early = ""
    if row["early_days"] is not None and row["early_days"] >= 1:
        early = f", one in ten less than {_left(row['early_days'])}"
    return f"{told} Of those that reached this age half last {_left(row['left_days'])} more{early}."


def life_sentence(row: Mapping[str, Any]) -> str:
    """Say how long cells last, and how many stand behind it.

    Parameters
    ----------
    row : mapping
        ``life_days``, ``life_low``, ``life_high``, ``cells``, ``failed``.

    Returns
    -------
    str
        A sentence.
    """
    low, high = (plain(row[name] / _MONTH_D) for name in ("life_low", "life_high"))
    return (
        f"Cells like this one last {plain(row['life_days'] / _MONTH_D)} months (50 of 100 between "
        f"{low} and {high}), by {count(row['cells'], 'cell')}, {plain(row['failed'])} of them told "
        "low."
    )


def fleet_as_text(cells: pl.DataFrame, devices: pl.DataFrame, wear: pl.DataFrame) -> str:
    """Write what a fleet tells of its cells and devices, for a terminal.

    Parameters
    ----------
    cells, devices, wear : polars.DataFrame
        As `lab.FleetView` has them.

    Returns
    -------
    str
        How long cells last, which are due, which devices fail.
    """
    lines = ["HOW LONG CELLS LAST"]
    for row in cells.iter_rows(named=True):
        name = "all together" if row["family"] == "any" else row["family"]
        if row["life_days"] is None:
            told = f"{count(row['cells'], 'cell')}, {plain(row['failed'])} told low: too few to say"
        else:
            told = life_sentence(row)[:-1].replace("Cells like this one last ", "")
        changed = f", {plain(row['changed'])} changed before" if row["changed"] else ""
        lines += wrapped(clean(f"{name}: {told}{changed}."), "  ", "    ")
    lines += ["" if cells.height else "  No cell is dated.", "CELLS THAT ARE DUE"]
    due = devices.filter("overdue")
    for row in due.iter_rows(named=True):
        why = "told low" if row["low"] else f"{percent(row['chance'])} low within 90 days"
        place = f" of area {row['within']}" if row["within"] else ""
        told = f"{row['site']}, point {row['zone']}{place} ({row['family']}): {why}."
        lines += wrapped(clean(told), "  ", "    ")
    lines += ["" if due.height else "  None that the logs show.", "FAULTS TO BE EXPECTED IN A YEAR"]
    for row in wear.filter(pl.col("failures") > 0).iter_rows(named=True):
        rising = "; it rises with age, beyond chance" if row["rising"] else ""
        name = "of no told family" if row["family"] == "any" else row["family"]
        seen = f"{count(row['failures'], 'fault')} in {plain(row['years'], 1)} years of devices"
        told = (
            f"{name}: {plain(row['expected'], 1)} of {count(row['devices'], 'device')}, by {seen}"
            f"{rising}."
        )
        lines += wrapped(clean(told), "  ", "    ")
    return "\n".join(lines) + "\n"


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
