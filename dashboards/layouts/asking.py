"""Questions about files that wait, with their answers as buttons."""

from collections.abc import Callable, Mapping
from pathlib import PurePath
from typing import TYPE_CHECKING, Any

from dash import dcc, html

from dashboards import ids, words
from dashboards.layouts import parts

if TYPE_CHECKING:
    from eventlab.lab import FileResult


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
