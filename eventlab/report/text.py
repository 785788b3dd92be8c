"""Findings as text for a terminal."""

import re
import textwrap

import polars as pl

from eventlab.report.words import certainty

_WIDTH = 96
_SENTENCE = re.compile(r"(?<=\.) ")


def as_text(findings: pl.DataFrame, *, brief: bool = False) -> str:
    """Write findings for a terminal: sentence, evidence, advice, caution.

    Parameters
    ----------
    findings : polars.DataFrame
        FINDING columns, in the order in which they are to be read.
    brief : bool, default False
        Of each finding only the sentence and what to do up to the first check; the cautions
        once, at the end.

    Returns
    -------
    str
        Plain text with lines of at most 96 characters where words allow; control characters of
        logged text are shown as marks, never sent to the terminal.
    """
    if findings.is_empty():
        return "Nothing was found that is worth a person's time.\n"
    blocks = []
    site = None
    for place, row in enumerate(findings.iter_rows(named=True), start=1):
        if row["site"] != site:
            site = row["site"]
            blocks.append(clean(f"Site {site}\n"))
        blocks.append(_brief(place, row) if brief else _finding(place, row))
    if brief:
        blocks.append(_cautions(findings))
    return "\n".join(blocks)


def _brief(place: int, row: dict[str, object]) -> str:
    lines = wrapped(str(row["statement"]), f"{place:>3}. ", "     ")
    for advice in _list(row["advice"]):
        lines += wrapped(str(advice), "     > ", "       ")
        if str(advice).startswith("First: "):
            break
    return "\n".join(lines) + "\n"


def _cautions(findings: pl.DataFrame) -> str:
    """Join the cautions of all findings, each sentence once."""
    told = [str(text) for text in findings["caution"].drop_nulls()]
    once = dict.fromkeys(part for text in told for part in _SENTENCE.split(text) if part)
    return "\n".join(wrapped("Caution: " + " ".join(once), "", "  ")) + "\n" if once else ""


def _finding(place: int, row: dict[str, object]) -> str:
    state = "holds where the log ends" if row["standing"] else "over"
    share = row["confidence"]
    sure = certainty(float(share) if isinstance(share, float) else None)
    lines = [
        *wrapped(str(row["statement"]), f"{place:>3}. ", "     "),
        *wrapped(
            f"[{row['pattern']}, {state}, {sure or 'how sure: not measured'}]", "     ", "     "
        ),
    ]
    for fact in _list(row["evidence"]):
        if isinstance(fact, dict):
            text = f"{fact['what']}: {fact['figure']}" + (
                f" ({fact['basis']})" if fact["basis"] else ""
            )
            lines += wrapped(text, "     - ", "       ")
    for advice in _list(row["advice"]):
        lines += wrapped(str(advice), "     > ", "       ")
    if row["caution"]:
        lines += wrapped(f"Caution: {row['caution']}", "     ! ", "       ")
    return "\n".join(lines) + "\n"


def _list(value: object) -> list[object]:
    return list(value) if isinstance(value, list) else []


def wrapped(text: str, first: str, rest: str) -> list[str]:
    """Break a text into lines; ``first`` leads the first of them, ``rest`` the others."""
    return textwrap.wrap(
        clean(text),
        width=_WIDTH,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )


def clean(text: str) -> str:
    """Show control characters as marks, so that logged text cannot steer a terminal."""
    return "".join(c if c.isprintable() or c == "\n" else "\N{REPLACEMENT CHARACTER}" for c in text)


def user(person: object) -> str:
    """Tell a person by number; where the log knows a name only, the name is not passed on."""
    return f"user {person}" if str(person).isdigit() else "a user told by name"
