"""Points whose identity stands in several columns: bus, module and input; building and number.

The parts are written from the widest to the narrowest, whatever the order of the columns: figures
with full stops between (``1.2.7``), anything else with strokes (``North/2/7``). Each part has its
canonical form, so that the label is the same in every export that tells the same parts.
"""

from dataclasses import replace

import polars as pl

from eventlab.errors import InputError
from eventlab.meaning.identity import canonical
from eventlab.meaning.part import Part, Roles
from eventlab.meaning.question import Choice, Question
from eventlab.meaning.shapes import meant

KEY = "point"
TOGETHER, ALONE = "together", "alone"
_PLACES = 3
"""Levels that say where something is: a building, a floor, a room; above them is wiring."""
_MOST = 0.8
"""Share of points that a schedule must list in one form."""

POINT = "c_point"
"""The column that is added for the label."""


def combine(cells: pl.DataFrame, roles: Roles) -> tuple[pl.DataFrame, Roles]:
    """Write the label of each row's point into a column of its own, where its parts stand apart.

    Parameters
    ----------
    cells : polars.DataFrame
        The table of text cells.
    roles : Roles
        Its columns by part.

    Returns
    -------
    tuple of polars.DataFrame and Roles
        Both unchanged where no column tells what a point belongs to.
    """
    members, zone = roles.columns.get(Part.MEMBER, []), roles.one(Part.ZONE)
    if not members or zone is None:
        return cells, roles
    # A part that is not told keeps its place: 2.7 is no bus without its module.
    parts = [canonical(meant(pl.col(name))).fill_null("-") for name in members]
    parts.append(canonical(meant(pl.col(zone))))
    numbers = pl.all_horizontal(
        part.str.contains(r"^(?:\d+|-)$").fill_null(value=True) for part in parts
    )
    stopped = pl.concat_str(parts, separator=".", ignore_nulls=True)
    stroked = pl.concat_str(parts, separator="/", ignore_nulls=True)
    # Without its last part it names no point: a module of its own is told as the row tells it.
    label = pl.when(parts[-1].is_not_null()).then(pl.when(numbers).then(stopped).otherwise(stroked))
    columns = roles.but(Part.MEMBER)
    columns[Part.ZONE] = [POINT]
    return cells.with_columns(label.alias(POINT)), replace(roles, columns=columns)


def settle_members(
    cells: pl.DataFrame, roles: Roles, zones: pl.DataFrame, answer: str | None
) -> tuple[Roles, Question | None, str]:
    """Tell whether columns that a point belongs to are part of its name.

    They are where points of one number stand in several of them, where the schedule lists the
    points so, and where what they name is wiring (a bus, a module), whose inputs are numbered
    apart (common practice). A building or a floor may only say where the point is: a person is
    asked.

    Parameters
    ----------
    cells : polars.DataFrame
        The table of text cells.
    roles : Roles
        Its columns by part.
    zones : polars.DataFrame
        The site's schedule, columns of ``schema.ZONE``.
    answer : str or None
        What a person said: ``together`` or ``alone``.

    Returns
    -------
    tuple of Roles, Question or None, and str
        The columns, what is left open, and how it was settled (empty where nothing was).
    """
    members, zone = roles.columns.get(Part.MEMBER, []), roles.one(Part.ZONE)
    if not members:
        return roles, None, ""
    if zone is None:
        return _alone(roles), None, ""
    if answer is not None:
        if answer not in {TOGETHER, ALONE}:
            raise InputError(
                f"{answer!r} is no answer to 'point'", do=f"Answer {TOGETHER} or {ALONE}."
            )
        return (roles if answer == TOGETHER else _alone(roles)), None, answer
    label = combine(cells, roles)[0].select(
        bare=canonical(meant(pl.col(zone))), whole=canonical(pl.col(POINT))
    )
    seen = label.drop_nulls().unique(maintain_order=True)
    if seen["bare"].n_unique() < seen.height:
        return roles, None, TOGETHER
    listed = zones.select(canonical(pl.col("zone"))).to_series().drop_nulls()
    plain = parted(listed)
    if listed.len():
        if _share(seen["whole"], plain) >= _MOST:
            return roles, None, TOGETHER
        if _share(seen["bare"], listed) >= _MOST:
            return _alone(roles), None, ALONE
    if any(roles.levels.get(name, 0) > _PLACES for name in members):
        return roles, None, TOGETHER
    if any(name not in roles.levels for name in members):
        return roles, None, ""  # a person said so
    first = seen["whole"][0] if seen.height else "North/2/7"
    question = Question(
        key=KEY,
        text=f"Do several columns together name a point, as in {first}?",
        choices=(
            Choice(TOGETHER, f"together: the point is {first}"),
            Choice(ALONE, "alone: its number is the point's, the other columns say where it is"),
        ),
        evidence=("no number stands in two of them, and no schedule lists the points",),
    )
    return roles, question, ""


def parted(labels: pl.Series) -> pl.Series:
    """Write labels of several figures as ``combine`` does: ``1-02/7`` as ``1.2.7``.

    Parameters
    ----------
    labels : polars.Series
        String.

    Returns
    -------
    polars.Series
        Others as they are.
    """
    name = pl.col("label")
    figures = name.str.contains(r"^\d+(?:[\s./:_-]+\d+)+$")
    bare = name.str.replace_all(r"[\s./:_-]+", ".").str.replace_all(r"(^|\.)0+(\d)", "${1}${2}")
    return pl.DataFrame({"label": labels}).select(pl.when(figures).then(bare).otherwise(name))[
        "label"
    ]


def _share(seen: pl.Series, listed: pl.Series) -> float:
    share = seen.is_in(listed.implode()).mean()
    return share if isinstance(share, float) else 0.0


def _alone(roles: Roles) -> Roles:
    columns = roles.but(Part.MEMBER)
    columns[Part.ASIDE] = [*columns.get(Part.ASIDE, []), *roles.columns.get(Part.MEMBER, [])]
    return replace(roles, columns=columns)
