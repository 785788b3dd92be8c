"""Join findings with the table of advice."""

import polars as pl

from eventlab.advice.points import described
from eventlab.advice.tables import table
from eventlab.context import Context
from eventlab.schema import Pattern

MARKS = (
    "Before anything else: look outside for marks, a cut cable or loose glass; "
    "somebody may be trying this point."
)
_UNWANTED = (
    Pattern.CHATTERING,
    Pattern.SWINGER,
    Pattern.FOLLOWS_POINT,
    Pattern.FOLLOWS_SIREN,
    Pattern.AFTER_VISIT,
    Pattern.STORM_BURST,
    Pattern.FOLLOWS_SUN,
    Pattern.FOLLOWS_CLOCK,
    Pattern.FOLLOWS_TEMPERATURE,
    Pattern.FOLLOWS_WIND,
    Pattern.FOLLOWS_RAIN,
    Pattern.FOLLOWS_ARMING,
    Pattern.FOLLOWS_AREA,
    Pattern.AFTER_DARK,
    Pattern.ENTRY_OVERRUN,
    Pattern.EXIT_OVERRUN,
    Pattern.POSSIBLE_INTRUSION,
    Pattern.LONE_OPENING,
)
_LIFE_SAFETY = "life-safety"
_LIDS = "tamper"
"""Behind a pattern: a row for tampers that follow something; no other row is for them."""


def advise(found: pl.DataFrame, context: Context) -> pl.DataFrame:
    """Add what to do about each finding, and what to mind while doing it.

    Parameters
    ----------
    found : polars.DataFrame
        FOUND columns.
    context : Context
        Zone schedules tell detector and place; without them the advice is general.

    Returns
    -------
    polars.DataFrame
        The rows of ``found`` in their order with ``advice`` (List of String: the checks in
        order, the cost in detection, the proof, the basis), ``caution`` (String) and ``settle``
        (``phone``, ``letter`` or ``visit``: how it is best begun). A life-safety point gets one
        advice only: to have it examined, and to treat every call as real until then.
    """
    numbered = found.with_row_index("finding")
    points = described(found, context)
    figures = pl.col("figures").str
    keys = numbered.select(
        "finding",
        "pattern",
        "subject_kind",
        driver=figures.json_path_match("$.driver"),
        tamper=figures.json_path_match("$.tamper") == "true",
    ).join(points, on="finding", how="left", maintain_order="left")
    ranked = _ranked(keys)
    best = ranked.filter(pl.col("rank") == 1)
    second = ranked.filter(pl.col("rank") == 2).select(
        "finding", other="about", other_first="first"
    )
    joined = keys.join(best, on="finding", how="left", maintain_order="left").join(
        second, on="finding", how="left", maintain_order="left"
    )
    told = joined.select("finding", "settle", advice=_lines(), caution=_cautions(joined))
    return numbered.join(told, on="finding", how="left", maintain_order="left").drop("finding")


def _ranked(keys: pl.DataFrame) -> pl.DataFrame:
    """Put the rows that fit each finding in order: the most particular first."""
    rows = table("advice").with_columns(
        wording=pl.col("patterns").str.split(" "),
        families=pl.col("detectors").str.split(" "),
        cautioned=pl.col("cautions").str.split(" "),
    )
    every = rows.filter(pl.col("subject") == _LIFE_SAFETY)
    rows = rows.filter(pl.col("subject") != _LIFE_SAFETY).explode("wording")
    # What stands behind a colon narrows a pattern to one driver, or to the tampers of a point.
    parts = pl.col("wording").str.splitn(":", 2)
    rows = rows.with_columns(
        pattern=parts.struct.field("field_0"), only=parts.struct.field("field_1").fill_null("")
    )
    fits = keys.filter(~pl.col("life_safety")).join(
        rows.rename({"subject": "wanted"}), on="pattern", how="inner"
    )
    subject = (pl.col("wanted") == "") | (pl.col("wanted") == pl.col("subject_kind"))
    detector = (pl.col("detectors") == "") | pl.col("families").list.contains(pl.col("family"))
    place = (pl.col("places") == "") | pl.col("place").str.contains(pl.col("places"))
    lids = pl.col("tamper").fill_null(value=False)
    driver = (pl.when(lids).then(pl.col("only") == _LIDS)).otherwise(
        (pl.col("only") == "") | (pl.col("only") == pl.col("driver")).fill_null(value=False)
    )
    particular = {"places": 2, "only": 2, "detectors": 1}
    weight = pl.sum_horizontal(
        worth * (pl.col(name) != "").cast(pl.Int8) for name, worth in particular.items()
    )
    fits = fits.filter(
        subject & driver & detector.fill_null(value=False) & place.fill_null(value=False)
    ).with_columns(weight=weight)
    examined = keys.filter("life_safety").join(every.rename({"subject": "wanted"}), how="cross")
    shared = ["finding", "weight", "order", *_TEXTS]
    both = [fits.select(shared), examined.with_columns(weight=pl.lit(0, pl.Int8)).select(shared)]
    return (
        pl.concat(both)
        .sort("finding", "weight", "order", descending=[False, True, False])
        .with_columns(rank=pl.int_range(1, pl.len() + 1).over("finding"))
    )


_TEXTS = (
    "about",
    "first",
    "second",
    "third",
    "cost",
    "prove",
    "settle",
    "cautioned",
    "basis",
)


def _lines() -> pl.Expr:
    def line(lead: str, column: str) -> pl.Expr:
        text = pl.col(column)
        stop = pl.when(text.str.ends_with("?")).then(pl.lit("")).otherwise(pl.lit("."))
        return pl.when(text != "").then(pl.lit(lead) + text + stop)

    other = pl.when(~pl.col("life_safety") & pl.col("other_first").is_not_null()).then(
        pl.lit("It may also be ") + pl.col("other") + ": " + pl.col("other_first") + "."
    )
    marks = pl.when(pl.col("perimeter") & ~pl.col("life_safety")).then(pl.lit(MARKS))
    return pl.concat_list(
        marks,
        line("First: ", "first"),
        line("Second: ", "second"),
        line("Third: ", "third"),
        other,
        line("What it costs in detection: ", "cost"),
        line("How to prove it: ", "prove"),
        line("Basis: ", "basis"),
    ).list.drop_nulls()


def _cautions(keys: pl.DataFrame) -> pl.Series:
    """Join what always holds with what this finding adds, in the order of the table."""
    words = table("cautions")
    unwanted = keys["pattern"].is_in([*_UNWANTED]) & ~keys["life_safety"]
    parts = []
    for word, text in words.select("caution", "text").iter_rows():
        if word == "always":
            holds = pl.lit(value=True)
        elif word == "unwanted":
            holds = pl.lit(unwanted)
        else:
            holds = pl.col("cautioned").list.contains(word).fill_null(value=False)
        parts.append(pl.when(holds).then(pl.lit(text)))
    return keys.select(pl.concat_str(parts, separator=" ", ignore_nulls=True).alias("c"))["c"]
