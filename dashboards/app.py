"""The factory of the app, and its server; nothing happens at import."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from dashboards.palette import style_sheet

if TYPE_CHECKING:
    from dash import Dash

    from eventlab.lab import Lab

HOST = "127.0.0.1"
THREADS = 12
"""A browser opens six connections; two people must not wait for each other's files."""

_INDEX = """<!DOCTYPE html>
<html lang="en" data-theme="light">
<head>
{%metas%}
<title>{%title%}</title>
<link rel="icon" href="/assets/mark.svg" type="image/svg+xml">
<style>PALETTE</style>
<script src="/assets/early.js"></script>
{%css%}
</head>
<body>
<noscript>These pages need JavaScript; <code>eventlab findings</code> tells the same.</noscript>
{%app_entry%}
{%config%}
{%scripts%}
{%renderer%}
</body>
</html>"""


def create_app(lab: "Lab", *, upload_limit: int | None = None) -> "Dash":
    """Make the app over one open store.

    Parameters
    ----------
    lab : Lab
        The open store; the app asks it and nothing else.
    upload_limit : int, optional
        Bytes of one file that are accepted.

    Returns
    -------
    dash.Dash
        With its own callbacks, routes and guards; any number can live in one process.
    """
    from dash import Dash
    from flask_compress import Compress

    from dashboards import callbacks, security, takeaway, upload
    from dashboards.callbacks.failing import tell
    from dashboards.jobs import Jobs
    from dashboards.layouts import shell
    from dashboards.remember import Remembered

    app = Dash(
        "dashboards",
        assets_folder=str(Path(__file__).parent / "assets"),
        assets_ignore=r"early\.js",
        title="eventlab",
        update_title=None,
        index_string=_INDEX.replace("PALETTE", style_sheet()),
        meta_tags=[{"name": "viewport", "content": "width=device-width, initial-scale=1"}],
        suppress_callback_exceptions=True,
        serve_locally=True,
        use_pages=False,
        enable_mcp=False,
        on_error=tell,
        add_log_handler=False,
    )
    asked = Remembered(lab)
    jobs = Jobs()
    desk = upload.Desk(asked, jobs, limit=upload_limit or upload.LIMIT)
    app.layout = shell.draw()
    callbacks.register(app, asked, desk)
    upload.add_routes(app, desk)
    takeaway.add_routes(app, asked)
    Compress(app.server)
    security.guard(app, asked)
    app.server.extensions["eventlab-desk"] = desk
    return app


def close(app: "Dash") -> None:
    """End an app's threads and remove the files that still lay on its desk."""
    desk = app.server.extensions["eventlab-desk"]
    desk.jobs.close()
    desk.close()


def serve(
    lab: "Lab",
    port: int = 8050,
    *,
    threads: int = THREADS,
    ready: Callable[[str], None] | None = None,
) -> None:
    """Serve the screens on this machine until stopped.

    Parameters
    ----------
    lab : Lab
        The open store.
    port : int
        Port on 127.0.0.1; 0 takes a free one.
    threads : int
        Threads of the one process; nothing is ever forked.
    ready : callable, optional
        Told the address once it can be opened.
    """
    from waitress import create_server, wasyncore

    from dashboards.upload import LIMIT

    app = create_app(lab)
    connections: dict[int, Any] = {}
    server = create_server(
        app.server,
        map=connections,
        host=HOST,
        port=port,
        threads=threads,
        max_request_body_size=LIMIT + (1 << 20),
        ident="eventlab",
    )
    if ready is not None:
        ready(f"http://{HOST}:{server.effective_port}/")
    try:
        server.run()
    finally:
        # The server's own end leaves open what a browser had not closed.
        wasyncore.close_all(connections, ignore_all=True)
        close(app)
