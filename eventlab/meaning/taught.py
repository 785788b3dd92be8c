"""Wordings that a person said the meaning of: how they are named, and how they read rows.

The tables decide first. Only a row that they leave unread is looked up among what was taught, by
its *form*: the wording in small letters, its numbers taken out. A taught wording never speaks for
a point whose name is one of life safety, unless it was taught as a kind that such a point may
have.
"""

import hashlib
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt
import polars as pl

from eventlab.meaning.lexicon import Reading, lexicon
from eventlab.meaning.marks import NUMBERS as NUMBER_ITEMS
from eventlab.meaning.parts import Parts, Span
from eventlab.meaning.templates import GLUE
from eventlab.meaning.told import AT_POINTS, BY_PEOPLE, GENERIC, Told
from eventlab.meaning.tongues import english
from eventlab.meaning.understood import LIFE_SAFETY_OF, UNDERSTOOD
from eventlab.meaning.wording import Row, rows_of, told_in, worded
from eventlab.schema import Kind, Phase, conform

NUMBERS = ("point", "area", "user", "none")
"""What a number in a taught wording may count."""

BESIDE_LIFE = (
    "its wording was taught, but the name of its point speaks of life safety: have a person decide"
)

_MARK = "t"
_MOST = 16
"""Numbers in one wording that may each be a point's."""


def forms(wordings: pl.Series) -> pl.DataFrame:
    """Give wordings their form, under which they are taught and found again.

    Parameters
    ----------
    wordings : polars.Series
        String.

    Returns
    -------
    polars.DataFrame
        ``text`` (each wording once, none null) and ``form``: small letters, ``#`` for each number,
        no signs between the words. ``Bobbin lane 4 swapped`` is ``bobbin lane # swapped``.
    """
    return worded(wordings).select("text", form=_form(pl.col("words")))


def _form(words: pl.Expr) -> pl.Expr:
    word = pl.element()
    small = word.str.replace_all(GLUE, "", literal=True).str.to_lowercase()
    plain = pl.when(word.str.contains(r"^\d")).then(pl.lit("#")).otherwise(small)
    return words.list.eval(plain.filter(word.str.contains(r"[\p{L}\d?]"))).list.join(" ")


def counted_by(kind: Kind) -> str:
    """Tell what a number in a wording of some kind counts, where nobody says otherwise."""
    return "point" if kind in AT_POINTS else "user" if kind in BY_PEOPLE else "none"


def in_force(taught: pl.DataFrame) -> pl.DataFrame:
    """Return what holds of what was taught, each with the mark that its rows carry.

    Parameters
    ----------
    taught : polars.DataFrame
        Columns of ``schema.TAUGHT``.

    Returns
    -------
    polars.DataFrame
        The same without what was taken back, and ``mark``: what stands behind the ``+`` in
        ``reading`` of rows that were read by it.
    """
    held = taught.filter(pl.col("kind").is_not_null())
    marks = [_mark_of(row) for row in held.iter_rows(named=True)]
    return held.with_columns(mark=pl.Series(marks, dtype=pl.String))


def _mark_of(row: dict[str, Any]) -> str:
    said = (row["form"], row["site"] or "", row["kind"], row["phase"], row["number"])
    return _MARK + hashlib.sha256("\x1f".join(said).encode()).hexdigest()[:11]


def matched(asked: pl.DataFrame, held: pl.DataFrame) -> pl.DataFrame:
    """Find for each form at a site the one taught wording that holds there.

    Parameters
    ----------
    asked : polars.DataFrame
        ``form``, ``site``, and whatever else.
    held : polars.DataFrame
        As ``in_force`` gives it.

    Returns
    -------
    polars.DataFrame
        ``asked`` with ``mark``; null where nothing was taught. What was taught for the site alone
        comes before what was taught for all.
    """
    own = held.filter(pl.col("site").is_not_null()).select("form", "site", own="mark")
    every = held.filter(pl.col("site").is_null()).select("form", every="mark")
    return (
        asked.join(own, on=["form", "site"], how="left", maintain_order="left")
        .join(every, on="form", how="left", maintain_order="left")
        .with_columns(mark=pl.coalesce("own", "every"))
        .drop("own", "every")
    )


@dataclass(frozen=True)
class Lessons:
    """What was taught that may concern the rows of a file.

    Parameters
    ----------
    held : polars.DataFrame
        As ``in_force`` gives it.
    sites : polars.Series
        The site of each row.
    """

    held: pl.DataFrame
    sites: pl.Series

    @classmethod
    def of(cls, taught: pl.DataFrame, sites: pl.Series) -> "Lessons | None":
        """Return what concerns some rows; None where nothing does, and nothing need be looked up.

        Parameters
        ----------
        taught : polars.DataFrame
            Columns of ``schema.TAUGHT``.
        sites : polars.Series
            The site of each row.
        """
        if taught.is_empty():
            return None
        here = pl.col("site").is_null() | pl.col("site").is_in(sites.unique().implode())
        held = in_force(taught.filter(here))
        return cls(held, sites) if held.height else None

    @property
    def by_site(self) -> bool:
        """Whether rows that are alike may read otherwise at another site."""
        return self.held["site"].null_count() < self.held.height

    def at(self, rows: npt.NDArray[np.uint32]) -> "Lessons":
        """Return the same for some of the rows."""
        return Lessons(self.held, self.sites.gather(rows))

    def applied(self, told: pl.DataFrame) -> pl.DataFrame:
        """Read what the tables left unread.

        Parameters
        ----------
        told : polars.DataFrame
            ``line``, ``_text``, ``_beside`` (the name of the point speaks of life safety), columns
            of ``UNDERSTOOD``.

        Returns
        -------
        polars.DataFrame
            The same with rows of lines that were taught put in their place, and ``reading``: the
            mark of what was taught, behind a ``+``.
        """
        unread = told.filter(pl.col("kind").is_null() & pl.col("_text").is_not_null())
        asked = unread.unique("line", maintain_order=True)
        asked = asked.with_columns(site=self.sites.gather(asked["line"]))
        asked = asked.join(forms(asked["_text"]), left_on="_text", right_on="text", how="left")
        asked = matched(asked, self.held).filter(pl.col("mark").is_not_null())
        if asked.is_empty():
            return told
        kept = [name for name in told.columns if name not in UNDERSTOOD]
        read = asked.select(*kept, "mark").join(
            self._read(asked.select("_text", "mark").unique(maintain_order=True)),
            left_on=["_text", "mark"],
            right_on=["text", "mark"],
            how="left",
        )
        held_back = pl.col("_beside") & pl.col("kind").is_in([str(kind) for kind in GENERIC])
        held_back = held_back.fill_null(value=False)
        read = read.with_columns(
            pl.when(~held_back).then("kind").alias("kind"),
            pl.when(held_back).then(pl.lit(BESIDE_LIFE)).alias("problem"),
            pl.when(~held_back).then(pl.lit("+") + pl.col("mark")).alias("reading"),
        ).drop("mark")
        rest = told.join(read.select("line").unique(), on="line", how="anti")
        return pl.concat([rest, read], how="diagonal_relaxed").sort(
            "line", "piece", maintain_order=True
        )

    def _read(self, asked: pl.DataFrame) -> pl.DataFrame:
        """Say what texts mean by what was taught: ``UNDERSTOOD`` and ``mark``."""
        found = []
        for row in self.held.iter_rows(named=True):
            texts = asked.filter(pl.col("mark") == row["mark"])["_text"]
            if texts.is_empty():
                continue
            told = told_in(worded(texts), english(), partial(_rows, row=row))
            found.append(conform(told, UNDERSTOOD).with_columns(mark=pl.lit(row["mark"])))
        return pl.concat(found)


def _rows(template: str, row: dict[str, Any]) -> list[Row]:
    return rows_of(template, _told(template, row))


def _items(span: Span) -> range:
    return range(span.start, span.stop)


def _told(template: str, row: dict[str, Any]) -> Told:
    """Give a wording the meaning it was taught, and its numbers the sense that was said."""
    kind, number = Kind(row["kind"]), row["number"]
    items = tuple(template.split())
    names = Parts(items, lexicon()).names
    zones = tuple(names.zones) or ((names.device,) if names.device is not None else ())
    areas, person = tuple(names.areas), names.person
    taken = {i for span in (*zones, *areas, *([person] if person else [])) for i in _items(span)}
    loose = [
        Span(i, i + 1) for i, item in enumerate(items) if item in NUMBER_ITEMS and i not in taken
    ][:_MOST]
    if number == "point":
        zones = zones or tuple(loose)
    elif number == "area":
        areas = areas or tuple(loose)
    elif number == "user" and person is None and loose:
        person = loose[0]
    return Told(
        Reading(kind, Phase(row["phase"])),
        zones=() if kind in {Kind.ARM, Kind.DISARM} else zones,
        areas=areas,
        person=person,
        person_name=names.person_name,
        path=names.path,
        life_safety=LIFE_SAFETY_OF.get(kind, ""),
    )
