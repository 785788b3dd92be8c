"""Small pieces that several pages use."""

from collections.abc import Iterable, Sequence
from typing import Any

from dash import html

from dashboards import question, words
from dashboards.palette import BY_KEY, Family

STAY = {"data-stay": ""}
"""A link that changes what is shown on the same page: the page is kept where it is scrolled to."""

Children = Any


def mark(family: Family | str) -> html.Span:
    """Draw the mark of a cause family; its word stands beside it, always."""
    key = family if isinstance(family, str) else family.key
    return html.Span(className=f"mark mark-{key}", **{"aria-hidden": "true"})


def named_mark(key: str) -> html.Span:
    """Draw the mark of a family with its word."""
    return html.Span([mark(key), " ", BY_KEY[key].word], className="named-mark")


def tag(kind: str, text: str) -> html.Span:
    """Draw a standing state as a word in its own frame: ``missing``, ``test``, ``unknown``."""
    return html.Span(text, className=f"tag tag-{kind}")


def link(text: Children, asked: question.Question, *, stay: bool = False, **more: Any) -> html.A:
    """Draw a link to another question."""
    return html.A(text, href=question.href(asked), **(STAY if stay else {}), **more)


def current(*, here: bool) -> dict[str, str]:
    """Mark the one of several links that is shown now."""
    return {"aria-current": "true"} if here else {}


def table(
    heads: Sequence[str],
    rows: Iterable[Sequence[Children]],
    *,
    label: str,
    numeric: Sequence[int] = (),
    head_column: int | None = 0,
) -> html.Div:
    """Draw a plain table that can be scrolled sideways on its own.

    Parameters
    ----------
    heads : sequence of str
        Column headings.
    rows : iterable of sequence
        Cells.
    label : str
        What the table shows, for its caption.
    numeric : sequence of int
        Columns that are set to the right.
    head_column : int, optional
        The column that names its row.

    Returns
    -------
    dash.html.Div
        Reachable by keyboard, so that it can be scrolled by keyboard.
    """
    looks = ["number" if i in numeric else None for i in range(len(heads))]
    # On a small screen each row stands as a block and each cell names itself (style sheet); the
    # roles are said because such a table has lost its own.
    body = [
        html.Tr(
            [_cell(i, cell, heads, looks[i], head_column) for i, cell in enumerate(row)], role="row"
        )
        for row in rows
    ]
    names = [
        html.Th(head, scope="col", className=looks[i], role="columnheader")
        for i, head in enumerate(heads)
    ]
    return html.Div(
        html.Table(
            [
                html.Caption(label, className="unseen"),
                html.Thead(html.Tr(names, role="row"), role="rowgroup"),
                html.Tbody(body, role="rowgroup"),
            ],
            role="table",
        ),
        className="table",
        tabIndex=0,
        role="region",
        **{"aria-label": label},
    )


def _cell(
    i: int, cell: Children, heads: Sequence[str], look: str | None, head_column: int | None
) -> html.Th | html.Td:
    said = {"data-label": heads[i]}
    if i == head_column:
        return html.Th(cell, scope="row", className=look, role="rowheader", **said)
    if cell in {"", "–"} if isinstance(cell, str) else cell is None:
        look = f"{look or ''} none".strip()
    return html.Td(cell, className=look, role="cell", **said)


def facts(pairs: Iterable[tuple[str, Children]], *, name: str = "facts") -> html.Dl:
    """Draw names and values side by side."""
    return html.Dl(
        [html.Div([html.Dt(what), html.Dd(value)]) for what, value in pairs], className=name
    )


def more(title: Children, children: Children, *, name: str = "", **props: Any) -> html.Details:
    """Draw something that opens on demand."""
    return html.Details([html.Summary(title), children], className=f"more {name}".strip(), **props)


def waits(files: int) -> html.P:
    """Tell that files wait for an answer, and where to give it."""
    return html.P(
        [
            html.Strong(words.count(files, "file")),
            " waits for an answer; nothing of it has been taken yet. "
            if files == 1
            else " wait for an answer; nothing of them has been taken yet. ",
            link("Answer now", question.Logs()),
        ],
        className="notice-line",
    )


def failed(said: str) -> html.Div:
    """Tell that something failed."""
    return html.Div([html.H2("This could not be shown"), html.P(said)], className="panel failed")


def empty(title: str, text: Children, *, level: int = 2) -> html.Div:
    """Draw a designed nothing: what is missing, and what to do."""
    head = html.H1(title, tabIndex=-1) if level == 1 else html.H2(title)
    return html.Div(
        [html.Div(className="empty-night", **{"aria-hidden": "true"}), head]
        + (text if isinstance(text, list) else [html.P(text)]),
        className="empty",
    )


def skeleton(text: str, *, lines: int = 3) -> html.Div:
    """Hold the place of what is being read."""
    return html.Div(
        [html.P(text, className="unseen")]
        + [html.Div(className="skeleton-line", **{"aria-hidden": "true"}) for _ in range(lines)],
        className="skeleton",
    )
