"""Wordings that are not understood: what they may mean, and how a person says what they do."""

from collections.abc import Sequence
from typing import Any

import polars as pl
from dash import dcc, html

from dashboards import ids, words
from dashboards.layouts import parts
from dashboards.teaching import Taught, Wording

NUMBERS = {"a point": "point", "an area": "area", "a user": "user", "nothing": "none"}
"""What a number in a wording may count, as the screen says it."""

_LIFE = (
    "It may speak of fire, gas, medical help or hold-up: have a person decide who knows the place."
)


def draw(wordings: Sequence[Wording], more: int, taught: Sequence[Taught]) -> list[Any]:
    """Draw what is not understood and what was taught.

    Parameters
    ----------
    wordings : sequence of Wording
        Most rows first.
    more : int
        How many others there are.
    taught : sequence of Taught
        What people said.

    Returns
    -------
    list of dash components
        For one section.
    """
    if not wordings:
        drawn: list[Any] = [html.P("Every wording that came in was understood.")]
    else:
        drawn = [
            html.P(
                "Rows with these wordings are unread, and kept. Say what one means, and its rows "
                "are read again from the originals. A number in it may be any number.",
                className="hint",
            ),
            html.Datalist(
                [html.Option(value=said) for said in words.MEANINGS], id=ids.TEACH_MEANINGS
            ),
            html.Datalist([html.Option(value=said) for said in NUMBERS], id=ids.TEACH_COUNTS),
            html.Ul([_wording(one) for one in wordings], className="reasons"),
            # Guesses take a moment; the page stands before they do.
            dcc.Interval(id=ids.TEACH_TICK, interval=100, max_intervals=1),
        ]
    if more:
        drawn.append(
            html.P(
                f"And {words.count(more, 'wording')} more: eventlab teach lists all.",
                className="hint",
            )
        )
    if taught:
        drawn.append(
            parts.more(
                f"{words.count(len(taught), 'wording')} that people said the meaning of",
                html.Ul([_taught(one) for one in taught], className="reasons"),
            )
        )
    return drawn


def _wording(one: Wording) -> html.Li:
    where = f"site {', '.join(one.sites[:4])}" + (
        f" and {len(one.sites) - 4} more" if len(one.sites) > 4 else ""
    )
    return html.Li(
        [
            html.P([html.Code(one.text), f" {words.count(one.rows, 'row')}, {where}"]),
            html.P(f"Not understood: {one.problem}", className="hint"),
            html.P([parts.tag("missing", "life safety"), f" {_LIFE}"]) if one.life else None,
            html.Div(id={"type": ids.TEACH_HINT, "key": one.key}),
            parts.more("Say what it means", _form(one)),
        ]
    )


def _form(one: Wording) -> html.Div:
    fields = [
        _field(ids.TEACH_MEANS, one.key, "It means", "such as mains loss", ids.TEACH_MEANINGS)
    ]
    if one.numbered:
        hint = "left empty: as usual for it"
        fields.append(
            _field(ids.TEACH_NUMBER, one.key, "A number in it counts", hint, ids.TEACH_COUNTS)
        )
    hint = f"such as {one.sites[0]}; left empty: all"
    fields.append(_field(ids.TEACH_SITE, one.key, "At which site", hint, ""))
    buttons = [_button("Remember it", one.key, "say")]
    if one.life:
        buttons.append(_button("It is surely no call for help: remember it", one.key, "sure"))
    return html.Div(
        [html.Div(fields, className="filters"), html.Div(buttons, className="choices")],
        className="asked",
    )


def _field(kind: str, key: str, label: str, hint: str, options: str) -> html.Label:
    return html.Label(
        [
            html.Span(label),
            dcc.Input(
                id={"type": kind, "key": key},
                type="text",
                placeholder=hint,
                list=options,
                autoComplete="off",
                className="field wide",
            ),
        ],
        className="labelled",
    )


def _button(text: str, key: str, how: str, *, quiet: bool = False) -> html.Button:
    return html.Button(
        text,
        id={"type": ids.TEACH_DO, "key": key, "how": how},
        className="button button-quiet" if quiet else "button",
        n_clicks=0,
    )


def hint(key: str, kind: str | None, phase: str | None, probability: float | None) -> Any:
    """Draw what a wording may mean; nothing where nothing is worth telling."""
    if kind is None:
        return None
    return html.P(
        [
            f"Perhaps: {words.kind(kind, phase)}, {words.confidence(probability)}. ",
            _button("It means that", key, "yes", quiet=True),
        ]
    )


def _taught(one: Taught) -> html.Li:
    number = {v: k for k, v in NUMBERS.items()}.get(one.number, "nothing")
    counts = f"; a number counts {number}" if one.numbered else ""
    where = f"at site {one.site}" if one.site else "at all sites"
    said = f" means {words.kind(one.kind, one.phase)}, {where}{counts}; said on "
    back = _button("Take it back", one.key, "back", quiet=True)
    return html.Li(html.P([html.Code(one.text), f"{said}{words.day(one.on)}. ", back]))


def done(read: int, unread: int, said: str) -> html.P:
    """Tell what changed."""
    told = [
        f"{words.count(many, 'row')} now {how}"
        for many, how in ((read, "read"), (unread, "not understood"))
        if many
    ]
    return html.P(f"{said} {'; '.join(told) or 'No stored row changed'}.")


def refused(why: str) -> html.P:
    """Tell why nothing was kept."""
    return html.P(f"Not remembered: {why}", className="problem")


def hints(keys: Sequence[str], guessed: pl.DataFrame) -> list[Any]:
    """Draw the guesses of several wordings, in the order of their keys."""
    by_key = {row["key"]: row for row in guessed.iter_rows(named=True)}
    return [
        hint(key, row["kind"], row["phase"], row["probability"])
        if (row := by_key.get(key))
        else None
        for key in keys
    ]
