"""Addresses that lead nowhere."""

from dash import html

from dashboards.layouts import parts
from dashboards.question import Home


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
