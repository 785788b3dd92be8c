"""Where should we go first? Rows, map and address."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from dash import ClientsideFunction, Input, Output, State, ctx, no_update

from dashboards import data, ids, question
from dashboards.figures import map as site_map
from dashboards.layouts import grid, home
from dashboards.palette import Theme
from dashboards.question import Home

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered


def register(app: "Dash", lab: "Remembered") -> None:
    """Register the callbacks of the first page."""
    app.clientside_callback(
        ClientsideFunction("screens", "askAgain"),
        Output(ids.HOME_ASKED, "data"),
        Input(ids.URL, "search"),
    )
    app.clientside_callback(
        ClientsideFunction("screens", "goToSite"),
        Output(ids.HOME_MAP, "clickData"),
        Input(ids.HOME_MAP, "clickData"),
        prevent_initial_call=True,
    )

    @app.callback(
        Output(ids.URL, "search", allow_duplicate=True),
        Input(ids.HOME_FIND, "value"),
        Input(ids.HOME_GRID, "columnState"),
        State(ids.URL, "search"),
        State(ids.WIDTH, "data"),
        prevent_initial_call=True,
    )
    def address(
        find: str | None, columns: list[dict[str, Any]] | None, search: str | None, width: str
    ) -> Any:
        asked = _asked(search)
        order = asked.order
        if ctx.triggered_id == ids.HOME_GRID and columns and width != "narrow":
            order = grid.order_of(columns)
        told = question.search(replace(asked, find=(find or "").strip(), order=order))
        return no_update if told == question.search(asked) else told

    @app.callback(
        Output(ids.HOME_GRID, "getRowsResponse"),
        Input(ids.HOME_GRID, "getRowsRequest"),
        State(ids.URL, "search"),
    )
    def rows(request: dict[str, Any] | None, search: str | None) -> Any:
        if request is None:
            return no_update
        return answer_rows(lab, request, search)

    @app.callback(
        Output(ids.HOME_COUNT, "children"),
        Output(ids.HOME_MAP, "figure"),
        Output(ids.HOME_MAP_WORDS, "children"),
        Output(ids.HOME_MAP_FRAME, "hidden"),
        Output(ids.HOME_GRID, "style"),
        Output(ids.HOME_CHOICES, "children"),
        Input(ids.URL, "search"),
        Input(ids.THEME, "data"),
        State(ids.WIDTH, "data"),
    )
    def around(search: str | None, theme: str, width: str) -> Any:
        sites = data.overview(lab)
        asked, narrow = _asked(search), width == "narrow"
        some = data.chosen(sites, asked)
        placed = home.map_rows(some)
        return (
            home.count_words(some.height, sites.height, asked),
            site_map.draw(placed, theme=Theme(theme or Theme.LIGHT)),
            home.map_words(placed.height, some.height),
            placed.is_empty(),
            {"height": grid.height(max(1, some.height), narrow=narrow)},
            home.choices(sites, data.tally(sites, lab), asked, narrow=narrow),
        )


def answer_rows(lab: "Remembered", request: dict[str, Any], search: str | None) -> dict[str, Any]:
    """Answer the table's wish for a block of rows.

    Parameters
    ----------
    lab : Remembered
        The open store.
    request : dict
        ``startRow``, ``endRow``, ``sortModel``; columns that may not be sorted by are left out.
    search : str or None
        The query of the address.

    Returns
    -------
    dict
        ``rowData`` and ``rowCount``.
    """
    some = data.chosen(data.overview(lab), _asked(search), request.get("sortModel"))
    start = max(0, int(request.get("startRow") or 0))
    stop = min(int(request.get("endRow") or start + grid.BLOCK), start + 2 * grid.BLOCK)
    return {"rowData": home.rows(some[start:stop], lab.now()), "rowCount": some.height}


def _asked(search: str | None) -> Home:
    asked = question.read("/", search)
    return asked if isinstance(asked, Home) else Home()
