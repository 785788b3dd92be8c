"""The page that answers what came in, and whether it was understood."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import polars as pl
from dash import dcc, html

from dashboards import ids, words
from dashboards.arrivals import Reason
from dashboards.jobs import OVER, Snapshot, State
from dashboards.layouts import parts
from dashboards.question import Logs, Site

if TYPE_CHECKING:
    from eventlab.lab import FileResult

TICK_MS = 500
ROLE_WORDS = {
    "log": "event log",
    "sites": "site list",
    "zones": "zone schedule",
    "weather": "weather",
    "visits": "visits",
    "outcomes": "outcomes",
}


def draw(
    *,
    sites: Sequence[tuple[str, str]],
    waiting: Any,
    stock: Any,
    asked: Logs,
) -> html.Div:
    """Draw the page.

    Parameters
    ----------
    sites : sequence of (str, str)
        Number and name of known sites, to choose from.
    waiting, stock : dash components
        As the functions of those names draw them.
    asked : question.Logs
        The work whose progress is shown.

    Returns
    -------
    dash.html.Div
        The page.
    """
    return html.Div(
        [
            html.Div(
                [
                    html.H1("What came in, and was it understood?", tabIndex=-1),
                    html.P(
                        "Every row of every file is read, already stored, or unread with its "
                        "reason. Nothing of a file is taken while a question about it is open.",
                        className="lead",
                    ),
                ],
                className="page-head",
            ),
            html.Div(waiting, id=ids.LOGS_WAITING),
            html.Section([html.H2("Bring in files"), _bring(sites)]),
            html.Div(
                [
                    html.Div(id=ids.LOGS_PROGRESS, role="status"),
                    html.Button(
                        "Stop after this file",
                        id=ids.LOGS_STOP,
                        className="button button-quiet",
                        hidden=True,
                        n_clicks=0,
                    ),
                ],
                className="progress-frame",
            ),
            html.Div(id=ids.LOGS_RESULTS),
            html.Div(stock, id=ids.LOGS_LEDGER),
            dcc.Interval(
                id=ids.LOGS_TICK, interval=TICK_MS, disabled=asked.job is None, n_intervals=0
            ),
        ],
        className="page",
    )


def _bring(sites: Sequence[tuple[str, str]]) -> html.Div:
    return html.Div(
        [
            html.Div(id=ids.LOGS_DROP, className="drop"),
            parts.more(
                "Say what the files themselves may not say",
                html.Div(
                    [
                        _said(
                            ids.LOGS_SITE,
                            "The logs are of the site",
                            "only where all of them are of one site",
                            [html.Option(label=name, value=site) for site, name in sites],
                        ),
                        _said(
                            ids.LOGS_ZONE,
                            "Their clocks run in",
                            "a time zone, such as Europe/London",
                            [],
                        ),
                    ],
                    className="filters",
                ),
            ),
        ],
        className="bring",
    )


def _said(key: str, label: str, hint: str, options: list[html.Option]) -> html.Div:
    return html.Div(
        [
            html.Label(label, htmlFor=key),
            dcc.Input(
                id=key,
                type="text",
                placeholder=hint,
                list=f"{key}-list" if options else "",
                autoComplete="off",
                className="field wide",
            ),
            html.Datalist(options, id=f"{key}-list"),
        ],
        className="labelled",
    )


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
        return html.Div(
            [
                html.P(f"{said}{step}. You can leave this page; the work goes on."),
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
        return html.P("Stopped. What had been taken by then stays.", className="panel")
    return None


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
                _wordings(one.not_understood, f"Wordings of {name} that were not understood"),
            )
        )
    if one.evidence:
        body.append(
            parts.more("How it was read", html.Ul([html.Li(said) for said in one.evidence]))
        )
    return html.Li(body, className="file")


def _notes(one: "FileResult") -> list[str]:
    notes = []
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


def waiting(files: Mapping[str, "FileResult"], answers: Callable[[str], Mapping[str, str]]) -> Any:
    """Draw the questions that wait, each with its answers as buttons.

    Parameters
    ----------
    files : mapping of str to FileResult
        Files that wait, by the hash of their bytes.
    answers : callable
        What has been answered so far for a file.

    Returns
    -------
    dash components
        None where no file waits.
    """
    if not files:
        return None
    return html.Section(
        [
            html.H2(f"{words.count(len(files), 'file')} {_wait(len(files))} for you"),
            *[_asked(sha256, one, answers(sha256)) for sha256, one in files.items()],
        ],
        className="waiting",
    )


def _wait(many: int) -> str:
    return "waits" if many == 1 else "wait"


def _asked(sha256: str, one: "FileResult", said: Mapping[str, str]) -> html.Div:
    name = PurePath(one.path).name
    body: list[Any] = [html.H3(name)]
    if not one.questions:
        body.append(
            html.P(
                [
                    "It was kept, and its taking was cut short; nothing is left to ask. ",
                    html.Button(
                        "Take it now",
                        id=_answer_id(sha256, "", ""),
                        className="button",
                        n_clicks=0,
                    ),
                ]
            )
        )
    for question in one.questions:
        chosen = said.get(question.key)
        body.append(
            html.Fieldset(
                [
                    html.Legend(question.text),
                    _choices(sha256, question, chosen)
                    if question.choices
                    else _typed(sha256, question, chosen),
                    parts.more(
                        "What was looked at, and did not decide",
                        html.Ul([html.Li(text) for text in question.evidence]),
                    )
                    if question.evidence
                    else None,
                ],
                className="question",
            )
        )
    left = sum(question.key not in said for question in one.questions)
    if said and left:
        body.append(html.P(f"{words.count(left, 'question')} left.", className="hint"))
    return html.Div(body, className="asked")


def _choices(sha256: str, question: Any, chosen: str | None) -> html.Div:
    return html.Div(
        [
            html.Button(
                choice.text,
                id=_answer_id(sha256, question.key, choice.value),
                className="button button-choice",
                n_clicks=0,
                **{"aria-pressed": "true" if chosen == choice.value else "false"},
            )
            for choice in question.choices
        ],
        className="choices",
    )


def _typed(sha256: str, question: Any, chosen: str | None) -> html.Div:
    return html.Div(
        [
            html.Label(
                [
                    "Type the answer, then press Enter",
                    dcc.Input(
                        id={"type": ids.LOGS_ANSWER_TEXT, "file": sha256, "key": question.key},
                        type="text",
                        value=chosen or "",
                        debounce=True,
                        autoComplete="off",
                        className="field wide",
                    ),
                ],
                className="labelled",
            ),
        ],
        className="choices",
    )


def _answer_id(sha256: str, key: str, value: str) -> dict[str, str]:
    return {"type": ids.LOGS_ANSWER, "file": sha256, "key": key, "value": value}


def stock(
    ledger: Sequence[Mapping[str, Any]], unread: Sequence[Reason], not_understood: pl.DataFrame
) -> list[Any]:
    """Draw what the store holds, and what of it was not understood.

    Parameters
    ----------
    ledger : sequence of mapping
        Exports taken, the newest first.
    unread : sequence of Reason
        Unread rows by reason.
    not_understood : polars.DataFrame
        ``text``, ``problem``, ``count``.

    Returns
    -------
    list of dash components
        Three sections.
    """
    return [
        html.Section([html.H2("Rows that could not be read"), *_reasons(unread)]),
        html.Section([html.H2("Wordings not understood"), *_not_understood(not_understood)]),
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


def _not_understood(told: pl.DataFrame) -> list[Any]:
    if told.is_empty():
        return [html.P("Every wording that came in was understood.")]
    return [
        html.P(
            "Rows with these wordings are unread. Once a wording is taught, they are read again "
            "from the originals.",
            className="hint",
        ),
        _wordings(told, "Wordings not understood"),
    ]


def _wordings(told: pl.DataFrame, label: str) -> html.Div:
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
