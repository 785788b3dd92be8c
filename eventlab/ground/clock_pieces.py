"""Stretches of a panel's clock, by what two witnesses tell."""

from datetime import UTC, datetime

import polars as pl

from eventlab.ground.clock_sets import MOVE
from eventlab.ground.clock_witness import Seen
from eventlab.ground.words import ClockSign
from eventlab.schema import Kind, Witness
from eventlab.settings import Settings

TWO = "events that both witnesses tell"
_END = 1 << 62


def pieces(seen: list[Seen], events: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    """Turn what two witnesses tell into stretches of the panel's clock, as it is read.

    A stretch reaches to where the clock was set next: the row that tells a setting or a restart
    between its last event and the first of the next stretch. Where no row tells that, rows
    between the two belong to neither.

    Parameters
    ----------
    seen : list of Seen
        As ``clock_witness`` gives them.
    events : polars.DataFrame
        EVENT rows with ``o``, their place in order.
    settings : Settings
        ``clock_bar_s``.

    Returns
    -------
    polars.DataFrame
        Columns of ``MOVE``.
    """
    rows = []
    for one in seen:
        last = len(one.pieces) - 1
        for number, (piece, (low, high)) in enumerate(zip(one.pieces, one.ends, strict=True)):
            start, stop = piece.at(piece.first), piece.at(piece.last)
            far = max(abs(start), abs(stop)) > settings.clock_bar_s
            drifts = far and abs(stop - start) > settings.clock_bar_s
            sign = ClockSign.DRIFT if drifts else ClockSign.OFF if far else ClockSign.AGREES
            rows.append(
                (one.site, Witness.PANEL.value, sign.value, _moment(piece.first),
                 _moment(piece.last), stop, piece.drift, piece.plus_minus, piece.pairs, far,
                 TWO, -1 if number == 0 else low, _END if number == last else high + 1, start)
            )  # fmt: skip
    frame = pl.DataFrame(rows, schema=MOVE, orient="row").sort("site", "o_from")
    marks = (
        events.filter(
            (pl.col("witness") == Witness.PANEL)
            & pl.col("kind").is_in([Kind.CLOCK_SET, Kind.SYSTEM_RESTART])
        )
        .select("site", mark="o")
        .sort("mark")
    )
    parted = (
        frame.sort("o_to")
        .join_asof(
            marks,
            left_on="o_to",
            right_on="mark",
            by="site",
            strategy="forward",
            coalesce=False,
            check_sortedness=False,
        )
        .sort("site", "o_from")
        .with_columns(following=pl.col("o_from").shift(-1).over("site"))
    )
    end = pl.when(pl.col("mark") <= pl.col("following")).then("mark")
    return (
        parted.with_columns(end=end)
        .with_columns(
            o_from=pl.coalesce(pl.col("end").shift(1).over("site"), "o_from"),
            o_to=pl.coalesce("end", "o_to"),
        )
        .select(list(MOVE))
    )


def _moment(seconds: float) -> datetime:
    return datetime.fromtimestamp(seconds, UTC)
