"""Who may ask, what a browser may do with the answer, and true statuses for unknown addresses.

The pages are for this machine: requests under any other host name are refused, so that a page of
somebody else's cannot reach them by giving its own name this machine's number.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from dashboards import data
from dashboards.question import People, Point, Proof, Site, Unknown, Watch, match
from eventlab.errors import EventlabError

if TYPE_CHECKING:
    from dash import Dash
    from flask import Response

    from dashboards.remember import Remembered

HOSTS = frozenset({"127.0.0.1", "localhost", "::1"})
PAGES_RULE = "/<path:path>"

HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}


def policy(hashes: list[str]) -> str:
    """Write the content policy: nothing from anywhere else, no script but our own.

    Parameters
    ----------
    hashes : list of str
        Of the inline scripts, quoted as the policy wants them.

    Returns
    -------
    str
        The value of the header. Style elements must be allowed: the table and the plots write
        theirs while they run.
    """
    rules = {
        "default-src": "'none'",
        "script-src": " ".join(["'self'", *hashes]),
        "style-src": "'self' 'unsafe-inline'",
        "img-src": "'self' data: blob:",
        "font-src": "'self' data:",
        "connect-src": "'self'",
        "worker-src": "'self'",
        "form-action": "'self'",
        "base-uri": "'none'",
        "frame-ancestors": "'none'",
        "object-src": "'none'",
    }
    return "; ".join(f"{name} {value}" for name, value in rules.items())


def guard(app: "Dash", lab: "Remembered") -> None:
    """Put the guards around every route of an app; to be called last.

    Parameters
    ----------
    app : dash.Dash
        All its callbacks are registered.
    lab : Remembered
        Knows which sites there are.
    """
    said = policy(list(app.csp_hashes()))
    app.server.before_request(_foreign_refused)
    app.server.before_request(_unknown_noted(lab))
    app.server.after_request(_headed(said))


def _foreign_refused() -> "Response | None":
    from flask import Response, request

    if (urlsplit(f"//{request.host}").hostname or "") not in HOSTS:
        return Response("This address is not served here.\n", 421, mimetype="text/plain")
    if request.method not in {"GET", "HEAD", "OPTIONS"} and not same_origin(
        request.headers.get("Origin"), request.host_url
    ):
        return Response("Only these pages may ask for that.\n", 403, mimetype="text/plain")
    return None


def same_origin(origin: str | None, here: str) -> bool:
    """Tell whether a request comes from our own pages.

    Parameters
    ----------
    origin : str or None
        The ``Origin`` header; browsers send it with everything that changes something.
    here : str
        The address of this server.

    Returns
    -------
    bool
        False also where there is no such header.
    """
    return origin is not None and origin.rstrip("/") == here.rstrip("/")


def _unknown_noted(lab: "Remembered") -> Callable[[], None]:
    def note() -> None:
        from flask import g, request

        rule = request.url_rule
        if rule is None or rule.rule != PAGES_RULE:
            return
        asked = match(request.path)
        g.unknown = isinstance(asked, Unknown) or (
            isinstance(asked, Site | Proof | People | Watch) and not _known(lab, asked)
        )

    return note


def _known(lab: "Remembered", asked: Site | Proof | People | Watch) -> bool:
    try:
        there = data.exists(lab, asked.site)
        return there and (not isinstance(asked, Point) or data.has_point(lab, asked))
    except EventlabError:
        return True  # the page itself tells what is wrong


def _headed(said: str) -> Callable[["Response"], "Response"]:
    def head(response: "Response") -> "Response":
        from flask import g, request

        if getattr(g, "unknown", False) and response.status_code == 200:
            response.status_code = 404
        response.headers["Content-Security-Policy"] = said
        response.headers.update(HEADERS)
        if not request.path.startswith(("/_dash-component-suites/", "/assets/")):
            response.headers["Cache-Control"] = "no-store"
        return response

    return head
