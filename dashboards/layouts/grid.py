"""The table of sites: one wrapper, so that every table looks and answers alike."""

from datetime import datetime
from typing import Any

import dash_ag_grid as dag

from dashboards import ids, question, words
from dashboards.question import Order

ROW, CARD, HEAD = 136, 296, 52
FEW = 24
"""So many sites stand on the page whole; more scroll in the table."""

BLOCK = 100

_SORTED: dict[Order, tuple[str, str]] = {
    Order.ALARMS: ("alarms_26w", "desc"),
    Order.RATE: ("rate_30d", "desc"),
    Order.NEWEST: ("newest", "desc"),
    Order.OLDEST: ("newest", "asc"),
    Order.NAME: ("name", "asc"),
}


def draw(asked: question.Home, *, narrow: bool, rows: int) -> dag.AgGrid:
    """Draw the table of sites; its rows are asked for block by block.

    Parameters
    ----------
    asked : question.Home
        Whose order the headers show.
    narrow : bool
        Small screen: one column of cards.
    rows : int
        Sites in all, for the height.

    Returns
    -------
    dash_ag_grid.AgGrid
        Community edition, infinite row model, no cell that can be written to.
    """
    return dag.AgGrid(
        id=ids.HOME_GRID,
        rowModelType="infinite",
        columnDefs=_card() if narrow else _columns(asked),
        defaultColDef={
            "resizable": False,
            "sortable": False,
            "filter": False,
            "suppressMovable": True,
            "wrapHeaderText": True,
            "cellDataType": False,
            "sortingOrder": ["desc", "asc", None],
        },
        className="ag-theme-quartz sites-grid",
        style={"height": height(rows, narrow=narrow)},
        dashGridOptions={
            "rowHeight": CARD if narrow else ROW,
            "headerHeight": 0 if narrow else HEAD,
            "cacheBlockSize": BLOCK,
            "maxBlocksInCache": 20,
            "rowBuffer": 4,
            "suppressCellFocus": False,
            "suppressDragLeaveHidesColumns": True,
            "suppressHorizontalScroll": True,
            "enableCellTextSelection": True,
            "ensureDomOrder": True,
            "animateRows": False,
        },
    )


def height(rows: int, *, narrow: bool) -> str:
    """Say how high the table stands: all rows where they are few, a screenful else."""
    whole = rows * (CARD if narrow else ROW) + (0 if narrow else HEAD) + 4
    if rows <= FEW:
        return f"{whole}px"
    return f"min({whole}px, max(26rem, 100vh - 8rem))"


def _columns(asked: question.Home) -> list[dict[str, Any]]:
    columns: list[dict[str, Any]] = [
        {
            "field": "name",
            "headerName": "Site",
            "cellRenderer": "SiteCell",
            "sortable": True,
            "flex": 4.8,
            "minWidth": 178,
        },
        {
            "field": "leading",
            "headerName": "What stands first, and the first step",
            "cellRenderer": "LeadingCell",
            "flex": 9,
            "minWidth": 200,
        },
        {
            "field": "alarms_26w",
            "headerName": "Alarms in 26 weeks",
            "cellRenderer": "AlarmsCell",
            "sortable": True,
            "flex": 3,
            "minWidth": 122,
        },
        {
            "field": "rate_30d",
            "headerName": "Alarms per 30 armed days",
            "cellRenderer": "RateCell",
            "sortable": True,
            "flex": 2.8,
            "minWidth": 104,
        },
        {
            "field": "newest",
            "headerName": "Newest log",
            "cellRenderer": "NumberCell",
            "sortable": True,
            "flex": 2,
            "minWidth": 76,
        },
    ]
    for column in columns:
        sort = _SORTED.get(asked.order)
        if sort and sort[0] == column["field"]:
            column["sort"] = sort[1]
    return columns


def _card() -> list[dict[str, Any]]:
    return [{"field": "name", "headerName": "Site", "cellRenderer": "CardCell", "flex": 1}]


def order_of(state: list[dict[str, Any]] | None) -> Order:
    """Read from the headers what the list begins with.

    Parameters
    ----------
    state : list of dict or None
        The table's column state.

    Returns
    -------
    Order
        ``Order.FIRST`` where no header is sorted.
    """
    sorts = {(one.get("colId"), one.get("sort")) for one in state or [] if one.get("sort")}
    for order, sort in _SORTED.items():
        if sort in sorts:
            return order
    # The headers know directions that no order has a word for.
    columns = {column for column, _ in sorts}
    return next((o for o, (column, _) in _SORTED.items() if column in columns), Order.FIRST)


def row(one: dict[str, Any], now: datetime) -> dict[str, Any]:
    """Say one site in the words of its row.

    Parameters
    ----------
    one : dict
        A row of ``data.overview``.
    now : datetime
        The present moment.

    Returns
    -------
    dict
        What the cells show, as text; nothing in it is markup.
    """
    age = words.age(one["newest"], now)
    tags = []
    if one["intrusion"]:
        tags.append({"kind": "intrusion", "text": "possible intrusion"})
    if one["missing"]:
        tags.append({"kind": "missing", "text": "protection missing"})
    if one["on_test"]:
        tags.append({"kind": "test", "text": "left on test"})
    if not one["known"]:
        tags.append({"kind": "unknown", "text": "nothing is known"})
    leading = one["leading"] or "No finding stands."
    if not one["known"]:
        leading = (
            f"No log for {age}: nothing is known." if one["newest"] else "No log has come in yet."
        )
    known = one["known"]
    return {
        "name": one["name"] or one["site"],
        "href": question.href(question.Site(one["site"])),
        "under": " · ".join(part for part in (one["site"], one["trade"]) if part),
        "tags": tags,
        "leading": leading,
        "way": words.WAYS.get(one["leading_settle"] or "", "") if known else "",
        "quiet": one["leading"] is None or not known,
        "alarms_26w": words.number(one["alarms_26w"]) if known else "not covered",
        "alarms_said": f"{words.count(one['alarms_26w'], 'alarm')} in 26 weeks"
        if known
        else "alarms not covered",
        "trend": list(one["trend"] or []),
        "rate_30d": _rate(one["rate_30d"]) if known else "not covered",
        "beside": _beside(one) if known else [],
        "newest": age,
    }


def _rate(value: float | None) -> str:
    return "arming not recorded" if value is None else words.rate(value)


def _beside(one: dict[str, Any]) -> list[str]:
    if one["point_rate"] is None:
        return []
    told = [f"{words.rate(one['point_rate'])} per point"]
    if one["trade_rate"] is not None:
        told.append(f"{one['trade']} sites: {words.rate(one['trade_rate'])} per point")
    return told
