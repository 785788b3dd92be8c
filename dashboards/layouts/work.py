"""How far a piece of work is, and what became of each file."""

from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from dash import html

from dashboards import words
from dashboards.jobs import OVER, Snapshot, State
from dashboards.layouts import parts
from dashboards.layouts.stock import wordings
from dashboards.question import Site

if TYPE_CHECKING:
    from eventlab.lab import FileResult

ROLE_WORDS = {
    "log": "event log",
    "sites": "site list",
    "zones": "zone schedule",
    "weather": "weather",
    "visits": "visits",
    "outcomes": "outcomes",
    "schedule": "schedule of opening hours",
    "users": "list of users",
}


MOST_NAMES = 12
"""Files named of a work that was stopped."""


def progress(job: Snapshot) -> Any:
    """Say how far a piece of work is.

    Parameters
    ----------
    job : Snapshot
        As the register gives it.

    Returns
    -------
    dash components
        A bar while it runs, a sentence once it is over.
    """
    if job.state in {State.QUEUED, State.RUNNING}:
        said = f"Reading {job.what}" if job.what else "Waiting for its turn"
        step = f", file {job.done + 1} of {job.total}" if job.total > 1 else ""
        on = "Stopping after this file." if job.stopping else "You can leave this page; it goes on."
        return html.Div(
            [
                html.P(f"{said}{step}. {on}"),
                html.Progress(
                    value=str(job.done),
                    max=str(max(job.total, 1)),
                    **{"aria-label": "Files read"},
                ),
            ],
            className="panel",
        )
    if job.state is State.LOST:
        return html.P(
            "This work is not known any more: the server was started again, or it was long ago. "
            "The list below says what has been taken.",
            className="panel",
        )
    if job.state is State.FAILED:
        return html.Div(
            [html.H2("The files could not be taken"), html.P(job.error)], className="panel failed"
        )
    if job.state is State.STOPPED:
        return _stopped(job)
    return None


def _stopped(job: Snapshot) -> html.Div:
    read = job.passed
    said = f"{words.number(len(read))} of {words.count(job.total, 'file')} had been read by then; "
    body: list[Any] = [html.H2("Stopped"), html.P(f"{said}what they told stays.")]
    if read:
        body.append(html.Ul([html.Li(name) for name in read[:MOST_NAMES]], className="read"))
        if len(read) > MOST_NAMES:
            body.append(html.P(f"and {words.number(len(read) - MOST_NAMES)} more"))
    body.append(html.P("Bring in the others again when you want to; nothing is taken twice."))
    return html.Div(body, className="panel")


def results(job: Snapshot) -> Any:
    """Draw what became of each file; nothing while the work goes on."""
    if job.state not in OVER or not job.result:
        return None
    return html.Section(
        [
            html.H2("What became of each file"),
            html.Ul([_result(one) for one in job.result], className="files"),
        ]
    )


def _result(one: "FileResult") -> html.Li:
    name = PurePath(one.path).name
    role = ROLE_WORDS.get(str(one.role), "not recognised") if one.role else "not recognised"
    body: list[Any] = [
        html.H3(name),
        html.P(
            [role, *([", site ", parts.link(one.site, Site(one.site))] if one.site else [])],
            className="hint",
        ),
    ]
    if one.error:
        body.append(html.P(one.error, className="problem"))
    elif one.questions:
        asked = words.count(len(one.questions), "question")
        body.append(html.P(f"{asked} must be answered first, above. Nothing was taken yet."))
    else:
        if one.already:
            body.append(html.P("These very bytes had been taken before; nothing has changed."))
        body.append(account(one.lines, one.rows, one.other, one.read, one.repeated, one.unread))
        body += [html.P(text) for text in _notes(one)]
    if one.not_understood.height:
        body.append(
            parts.more(
                f"{words.count(one.not_understood.height, 'wording')} not understood",
                wordings(one.not_understood, f"Wordings of {name} that were not understood"),
            )
        )
    if one.evidence:
        body.append(
            parts.more("How it was read", html.Ul([html.Li(said) for said in one.evidence]))
        )
    return html.Li(body, className="file")


def _notes(one: "FileResult") -> list[str]:
    notes = [f"{note[:1].upper()}{note[1:]}." for note in one.notes]
    if one.events:
        notes.append(f"{words.count(one.events, 'event')} newly stored.")
    if one.doubtful:
        notes.append(
            f"{words.count(one.doubtful, 'row')} of doubtful time: kept, shown, in no rate."
        )
    if one.seam:
        notes.append(
            f"{words.count(one.seam, 'row')} in a seam second, where two exports meet: the larger "
            "count was kept."
        )
    return notes


def account(lines: int, rows: int, other: int, read: int, repeated: int, unread: int) -> html.Div:
    """Draw the account of a file: every line and every row has its place.

    Parameters
    ----------
    lines, rows, other : int
        ``lines`` is the sum of the other two.
    read, repeated, unread : int
        ``rows`` is their sum.

    Returns
    -------
    dash.html.Div
        One bar and the sums in words.
    """
    shares = (("read", read), ("repeated", repeated), ("unread", unread))
    bar = [
        html.Span(className=f"share share-{name}", style={"flexGrow": str(many)})
        for name, many in shares
        if many
    ]
    return html.Div(
        [
            html.Div(bar, className="account-bar", **{"aria-hidden": "true"}),
            html.P(
                f"{words.count(lines, 'line')} = {words.count(rows, 'row')} + "
                f"{words.number(other)} other (headings, notes, blanks)."
            ),
            html.P(
                [
                    f"{words.count(rows, 'row')} = ",
                    html.Span(f"{words.number(read)} read", className="key key-read"),
                    " + ",
                    html.Span(
                        f"{words.number(repeated)} already stored", className="key key-repeated"
                    ),
                    " + ",
                    html.Span(f"{words.number(unread)} unread", className="key key-unread"),
                    ".",
                ]
            ),
        ],
        className="account",
    )
