"""What a page is asked, and how the address says it: the address holds the whole question.

Addresses are read here only. What an address says wrongly (a date that is none, a word that is
not known) is left out, never an error: the page then answers the question without it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar
from urllib.parse import parse_qsl, quote, unquote, urlencode

from werkzeug.exceptions import HTTPException
from werkzeug.routing import Map, Rule

from dashboards.palette import BY_KEY

LONGEST = 200
"""Characters of any one value that are read from an address."""


class Show(StrEnum):
    """Which sites are listed."""

    ALL = "all"
    MISSING = "missing"
    TEST = "test"
    ALARMS = "alarms"
    UNKNOWN = "unknown"


class Order(StrEnum):
    """What the list of sites begins with."""

    FIRST = "first"
    ALARMS = "alarms"
    RATE = "rate"
    NEWEST = "newest"
    OLDEST = "oldest"
    NAME = "name"


@dataclass(frozen=True, slots=True)
class Home:
    """What the first page is asked: where should we go first.

    Parameters
    ----------
    find : str
        Part of a site's name or number.
    show : Show
        Which sites are listed.
    trade : str
        Only sites of this trade; empty for all.
    order : Order
        What the list begins with.
    """

    find: str = ""
    show: Show = Show.ALL
    trade: str = ""
    order: Order = Order.FIRST


@dataclass(frozen=True, slots=True)
class Site:
    """What a site's page is asked: what is happening here.

    Parameters
    ----------
    site : str
        The site.
    since, until : date, optional
        First and last night shown.
    without : frozenset of str
        Cause families left out, by key.
    around : int, optional
        The occurrence whose neighbourhood is shown.
    finding : str, optional
        The finding whose events are shown.
    page : int
        Page of the table of alarms, from 1.
    """

    site: str
    since: date | None = None
    until: date | None = None
    without: frozenset[str] = frozenset()
    around: int | None = None
    finding: str | None = None
    page: int = 1


@dataclass(frozen=True, slots=True)
class Point(Site):
    """What a point's page is asked: why this point. All that is asked of a site is of it alone.

    Parameters
    ----------
    zone : str
        The point.
    within : str, optional
        The area that is part of its name, where numbers restart with each area.
    """

    zone: str = ""
    within: str | None = None


@dataclass(frozen=True, slots=True)
class Proof:
    """What the page of proof is asked: did it work.

    Parameters
    ----------
    site : str
        The site.
    visit : int, optional
        Number of a visit on file, from 1.
    at : date, optional
        A date instead; it counts before a visit.
    zone : str, optional
        Only this point; the whole site where left out.
    """

    site: str
    visit: int | None = None
    at: date | None = None
    zone: str | None = None


@dataclass(frozen=True, slots=True)
class People:
    """What the page of use is asked: how is the place used.

    Parameters
    ----------
    site : str
        The site.
    at : date, optional
        A training, before and after which is compared.
    """

    site: str
    at: date | None = None


@dataclass(frozen=True, slots=True)
class Watch:
    """What the page of watching is asked: is it still listening.

    Parameters
    ----------
    site : str
        The site.
    """

    site: str


@dataclass(frozen=True, slots=True)
class Logs:
    """What the page of logs is asked: what came in, and was it understood.

    Parameters
    ----------
    job : str, optional
        The work whose progress is shown.
    """

    job: str | None = None


@dataclass(frozen=True, slots=True)
class HowSure:
    """What the page on causes is asked: how sure are they."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """An address that no page answers."""

    path: str


Question = Home | Site | Proof | People | Watch | Logs | HowSure | Unknown

_PAGES = Map(
    [
        Rule("/", endpoint="home"),
        Rule("/site/<site>", endpoint="site"),
        Rule("/site/<site>/proof", endpoint="proof"),
        Rule("/site/<site>/people", endpoint="people"),
        Rule("/site/<site>/watch", endpoint="watch"),
        Rule("/site/<site>/zone/<zone>", endpoint="point"),
        Rule("/logs", endpoint="logs"),
        Rule("/how-sure", endpoint="how-sure"),
    ],
    strict_slashes=False,
)
_Word = TypeVar("_Word", bound=StrEnum)


def read(path: str | None, search: str | None) -> Question:
    """Read a question from an address as a browser gives it.

    Parameters
    ----------
    path : str or None
        The path, percent-encoded.
    search : str or None
        The query, with or without its question mark.

    Returns
    -------
    Question
        ``Unknown`` where no page answers to the path.
    """
    return match(unquote(path or "/"), search)


def match(path: str, search: str | None = None) -> Question:
    """Read a question from a path that is no longer percent-encoded; see ``read``."""
    try:
        endpoint, values = _PAGES.bind("localhost").match(path)
    except HTTPException:
        return Unknown(path)
    said = {k: v[:LONGEST] for k, v in parse_qsl((search or "").removeprefix("?"))}
    if endpoint == "home":
        return _home(said)
    if endpoint == "site":
        return Site(unquote(values["site"]), **_narrowed(said))
    if endpoint == "point":
        return Point(
            unquote(values["site"]),
            **_narrowed(said),
            zone=unquote(values["zone"]),
            within=said.get("within"),
        )
    if endpoint == "proof":
        return _proof(unquote(values["site"]), said)
    if endpoint == "people":
        return People(unquote(values["site"]), at=day(said.get("at")))
    if endpoint == "watch":
        return Watch(unquote(values["site"]))
    if endpoint == "how-sure":
        return HowSure()
    return Logs(job=said.get("job"))


def _home(said: Mapping[str, str]) -> Home:
    return Home(
        find=said.get("find", "").strip(),
        show=_word(Show, said.get("show"), Show.ALL),
        trade=said.get("trade", ""),
        order=_word(Order, said.get("order"), Order.FIRST),
    )


def _narrowed(said: Mapping[str, str]) -> dict[str, Any]:
    since, until = day(said.get("since")), day(said.get("until"))
    if since and until and since > until:
        since, until = until, since
    around, page = said.get("around", ""), said.get("page", "")
    return {
        "since": since,
        "until": until,
        "without": frozenset(BY_KEY).intersection(said.get("without", "").split(".")),
        "around": int(around) if _whole(around) else None,
        "finding": said.get("finding"),
        "page": max(1, int(page)) if _whole(page) else 1,
    }


def _proof(site: str, said: Mapping[str, str]) -> Proof:
    at, visit = day(said.get("at")), said.get("visit", "")
    numbered = int(visit) if at is None and _whole(visit) and int(visit) else None
    return Proof(site=site, visit=numbered, at=at, zone=said.get("zone"))


def _word(words: type[_Word], said: str | None, otherwise: _Word) -> _Word:
    return words(said) if said in set(words) else otherwise


def _whole(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 18


def day(text: str | None) -> date | None:
    """Read a date as ``2026-03-31``; None where it is none."""
    try:
        return date.fromisoformat((text or "").strip())
    except ValueError:
        return None


def href(question: Question) -> str:
    """Write the address of a question.

    Parameters
    ----------
    question : Question
        What is asked.

    Returns
    -------
    str
        Path and query, safe to put into a page.
    """
    return path(question) + search(question)


def path(question: Question) -> str:
    """Write the path of a question, percent-encoded."""
    if isinstance(question, Point):
        return f"/site/{_step(question.site)}/zone/{_step(question.zone)}"
    if isinstance(question, Site | Proof | People | Watch):
        page = {Proof: "/proof", People: "/people", Watch: "/watch"}.get(type(question), "")
        return f"/site/{_step(question.site)}{page}"
    if isinstance(question, Logs):
        return "/logs"
    if isinstance(question, HowSure):
        return "/how-sure"
    return "/" if isinstance(question, Home) else quote(question.path)


def _step(number: str) -> str:
    # Servers decode a path before it is split: a slash inside a number is encoded twice.
    inner = quote(number, safe="") if "/" in number or "%" in number else number
    return quote(inner, safe="")


def search(question: Question) -> str:
    """Write the query of a question, with its question mark; empty where nothing is asked."""
    if isinstance(question, Unknown):
        return ""
    in_path = {"site", "zone"} if isinstance(question, Point) else {"site"}
    said = {
        field.name: _said(getattr(question, field.name))
        for field in fields(question)
        if field.name not in in_path and getattr(question, field.name) != field.default
    }
    return "?" + urlencode(said) if said else ""


def _said(value: object) -> str:
    if isinstance(value, frozenset):
        return ".".join(sorted(value))
    return str(value)
