"""Addresses that lead nowhere."""

from dash import html

from dashboards.layouts import parts
from dashboards.question import Home, Point, Site


def page() -> html.Div:
    """Say that no page answers to this address."""
    return parts.empty(
        "There is no such page",
        [html.P("The address may be cut short."), html.P(parts.link("To all sites", Home()))],
        level=1,
    )


def site(number: str) -> html.Div:
    """Say that the store knows no such site."""
    return parts.empty(
        f"There is no site {number}",
        [
            html.P("No log of it has come in, or its number is written in another way."),
            html.P(parts.link("To all sites", Home())),
        ],
        level=1,
    )


def point(asked: Point) -> html.Div:
    """Say that the site has no such point, or several of that number."""
    return parts.empty(
        f"There is no point {asked.zone} at site {asked.site}",
        [
            html.P(
                "No log and no zone schedule names it; or several areas have that number, and the "
                "address does not say which."
            ),
            html.P(parts.link("To all points of the site", Site(asked.site))),
        ],
        level=1,
    )
