"""What the store holds, and what of it was not understood."""

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl
from dash import html

from dashboards import words
from dashboards.arrivals import Reason
from dashboards.layouts import parts
from dashboards.question import Site


def stock(
    ledger: Sequence[Mapping[str, Any]], unread: Sequence[Reason], wordings: Sequence[Any]
) -> list[Any]:
    """Draw what the store holds, and what of it was not understood.

    Parameters
    ----------
    ledger : sequence of mapping
        Exports taken, the newest first.
    unread : sequence of Reason
        Unread rows by reason.
    wordings : sequence of dash components
        Wordings not understood, as ``layouts.teaching`` draws them.

    Returns
    -------
    list of dash components
        Three sections.
    """
    return [
        html.Section([html.H2("Rows that could not be read"), *_reasons(unread)]),
        html.Section([html.H2("Wordings not understood"), *wordings]),
        html.Section([html.H2("Exports taken"), *_ledger(ledger)]),
    ]


def _reasons(reasons: Sequence[Reason]) -> list[Any]:
    if not reasons:
        return [html.P("Every row that came in was read.")]
    total = sum(one.rows for one in reasons)
    return [
        html.P(
            f"{words.count(total, 'row')} kept as they stood, in no figure, until they can be read."
        ),
        html.Ul(
            [
                html.Li(
                    [
                        html.P(
                            [
                                html.Strong(words.count(one.rows, "row")),
                                f": {one.problem}",
                                f" (site {', '.join(one.sites)})" if one.sites else "",
                            ]
                        ),
                        parts.more(
                            "Examples",
                            html.Ul(
                                [
                                    html.Li(
                                        [
                                            f"row {words.number(row)}: " if row else "",
                                            html.Code(raw),
                                        ]
                                    )
                                    for row, raw in one.examples
                                ],
                                className="examples",
                            ),
                        ),
                    ]
                )
                for one in reasons
            ],
            className="reasons",
        ),
    ]


def _ledger(ledger: Sequence[Mapping[str, Any]]) -> list[Any]:
    if not ledger:
        return [html.P("No export has been taken yet.")]
    rows = []
    for one in ledger:
        sites = one.get("sites") or []
        links: list[Any] = []
        for site in sites[:4]:
            links += [parts.link(site, Site(site)), " "]
        if len(sites) > 4:
            links.append(f"and {len(sites) - 4} more")
        lines = one.get("lines")
        taken = one.get("taken_at")
        rows.append(
            (
                one.get("name") or "–",
                links or "–",
                html.Span(words.day(taken.date()), className="whole") if taken else "–",
                words.number(lines),
                words.number(lines - one["rows"] if lines is not None else None),
                words.number(one.get("rows")),
                words.number(one.get("read")),
                words.number(one.get("repeated")),
                words.number(one.get("unread")),
            )
        )
    return [
        html.P("Lines = other + rows; rows = read + already stored + unread.", className="hint"),
        parts.table(
            ("File", "Site", "Taken", "Lines", "Other", "Rows", "Read", "Already stored", "Unread"),
            rows,
            label="Exports taken, the newest first",
            numeric=(3, 4, 5, 6, 7, 8),
        ),
    ]


def wordings(told: pl.DataFrame, label: str) -> html.Div:
    """Draw wordings that were not understood: text, problem, count."""
    rows = told.select("text", "problem", "count").iter_rows()
    return parts.table(
        ("Wording", "Why it was not understood", "Rows"),
        [
            (html.Code(text or "(empty)"), problem, words.number(many))
            for text, problem, many in rows
        ],
        label=label,
        numeric=(2,),
    )
