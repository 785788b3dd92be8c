"""The only place that binds questions, frames, figures and layouts together."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered
    from dashboards.upload import Desk


def register(app: "Dash", lab: "Remembered", desk: "Desk") -> None:
    """Register all callbacks on one app, and on no other.

    Parameters
    ----------
    app : dash.Dash
        The app.
    lab : Remembered
        The open store.
    desk : Desk
        Takes the files that are uploaded.
    """
    from dashboards.callbacks import (
        alive,
        home,
        how_sure,
        logs,
        people,
        point,
        proof,
        shell,
        site,
        teaching,
    )

    shell.register(app, lab, desk)
    home.register(app, lab)
    site.register(app, lab)
    proof.register(app, lab)
    point.register(app, lab)
    people.register(app, lab)
    alive.register(app, lab)
    logs.register(app, lab, desk)
    how_sure.register(app, lab)
    teaching.register(app, lab)
