"""What a wording means: guesses that come after the page, and what a person says."""

from typing import TYPE_CHECKING, Any

from dash import ALL, Input, Output, State, ctx, no_update

from dashboards import ids, teaching
from dashboards.callbacks.logs import stock
from dashboards.layouts import teaching as layout
from eventlab.errors import EventlabError

if TYPE_CHECKING:
    from dash import Dash

    from dashboards.remember import Remembered

_SAID = {
    "say": "Remembered.",
    "sure": "Remembered.",
    "yes": "Remembered.",
    "back": "Taken back.",
}


def register(app: "Dash", lab: "Remembered") -> None:
    """Register the callbacks of what wordings mean."""

    @app.callback(
        Output({"type": ids.TEACH_HINT, "key": ALL}, "children"),
        Input(ids.TEACH_TICK, "n_intervals"),
        State({"type": ids.TEACH_HINT, "key": ALL}, "id"),
        prevent_initial_call=True,
    )
    def guess(ticks: int | None, shown: list[dict[str, str]]) -> Any:
        if not ticks or not shown:
            return [no_update] * len(shown)
        return layout.hints([one["key"] for one in shown], teaching.guessed(lab))

    @app.callback(
        Output(ids.TEACH_DONE, "children"),
        Output(ids.LOGS_LEDGER, "children", allow_duplicate=True),
        Input({"type": ids.TEACH_DO, "key": ALL, "how": ALL}, "n_clicks"),
        State({"type": ids.TEACH_MEANS, "key": ALL}, "value"),
        State({"type": ids.TEACH_MEANS, "key": ALL}, "id"),
        State({"type": ids.TEACH_NUMBER, "key": ALL}, "value"),
        State({"type": ids.TEACH_NUMBER, "key": ALL}, "id"),
        State({"type": ids.TEACH_SITE, "key": ALL}, "value"),
        State({"type": ids.TEACH_SITE, "key": ALL}, "id"),
        prevent_initial_call=True,
        running=[(Output(ids.TEACH_WAIT, "hidden"), False, True)],
    )
    def say(_clicks: list[int], *typed: Any) -> Any:
        asked, clicks = ctx.triggered_id, (ctx.triggered or [{}])[0].get("value")
        if not isinstance(asked, dict) or not clicks:
            return no_update, no_update
        key, how = asked["key"], asked["how"]
        means, number, site = (_of(key, *typed[i : i + 2]) for i in (0, 2, 4))
        try:
            if how == "back":
                changed = teaching.take_back(lab, key)
            elif how == "yes":
                changed = teaching.accept(lab, key)
            else:
                counts = layout.NUMBERS.get(number.lower(), number)
                changed = teaching.say(lab, key, means, counts, site, sure=how == "sure")
        except EventlabError as error:
            return layout.refused(str(error)), no_update
        return layout.done(changed.read, changed.unread, _SAID[how]), stock(lab)


def _of(key: str, values: list[str | None], names: list[dict[str, str]]) -> str:
    """Return what was typed for one wording."""
    typed = {name["key"]: value for name, value in zip(names, values, strict=True)}
    return (typed.get(key) or "").strip()
