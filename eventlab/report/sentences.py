"""One sentence for each pattern, from its figures."""

from collections.abc import Callable

from eventlab.report import changes, openings, repeats, using, watching
from eventlab.report.coming_going import COMING_GOING
from eventlab.report.driving import DRIVEN
from eventlab.report.said import Said
from eventlab.report.words import (
    count,
    joined,
    off_by,
    percent,
    plain,
    ratio,
    seconds_told,
    span,
    times,
)
from eventlab.schema import Pattern, Subject

_FINE_S = 5.0
"""Below this uncertainty of a clock its drift is told with a decimal [s]."""


def sentence(pattern: str, said: Said) -> str:
    """Say one finding in one plain sentence, or two short ones.

    Parameters
    ----------
    pattern : str
        A word of ``schema.Pattern``.
    said : Said
        What is to be said.

    Returns
    -------
    str
        Plain text; nothing is escaped here.
    """
    write = _SENTENCES.get(pattern, _other)
    return _upper(write(said))


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _on_test(said: Said) -> str:
    what, hours = said.figures.get("what", "on test"), said.get("hours")
    if not said.standing:
        more = f", and {times(said.get('times'))} in all" if said.get("times") > 1 else ""
        return (
            f"{said.site} was left {what} for {span(hours)} from {said.since}{more}: "
            "alarms of that time were not acted on."
        )
    if said.figures.get("ends_told") is False:
        return (
            f"{said.site} was put {what} on {said.since}. This log tells no end of anything, so "
            "whether it still is cannot be seen here: it must be looked at before any alarm of it "
            "is relied on."
        )
    doubt = "" if said.figures.get("tells_ends") else "; this log tells no end of any test"
    return (
        f"{said.site} has been {what} since {said.since}, {span(hours)} up to the end of the log, "
        f"and nothing shows that it was ended{doubt}."
    )


def _intrusion(said: Said) -> str:
    if said.figures.get("nights"):
        return _intrusions(said)
    why = [str(w) for w in said.figures.get("why") or []]
    first = f": {why[0]}" if why else ""
    alarms = said.get("alarms")
    told = (
        f" with {count(alarms, 'alarm')} of {count(said.get('points'), 'point')}" if alarms else ""
    )
    minutes = said.number("disarm_min")
    after = ""
    if minutes is not None and minutes <= 24 * 60:
        after = f" The place was disarmed {span(minutes / 60)} after the first alarm."
    return (
        f"Possible real intrusion at {said.site} on {said.since}{told}{first}.{after} "
        "Take it for real until somebody who was there says otherwise."
    )


def _intrusions(said: Said) -> str:
    """Say of several nights of a site what may have made each a real intrusion."""
    each = {
        "pairs": f"two points alarmed within {span(said.get('window_h'))} of each other",
        "stayed": "a door or window alarmed and stayed open",
        "lost": "an alarm came beside something that was lost while armed",
        "signs": "an alarm came after signs in the days before",
        "out": "an alarm came while others were out of service",
    }
    told = [(what, said.get(name)) for name, what in each.items() if said.get(name)]
    if len(told) > 1:
        told = [(f"{what} ({count(many, 'night')})", many) for what, many in told]
    chance = ""
    if said.get("chance") >= 0.5:
        chance = (
            f" At so many alarms chance alone brings two points together about "
            f"{times(said.get('chance'))}, which makes no single night harmless."
        )
    return (
        f"Possible real intrusions at {said.site}: on {count(said.get('nights'), 'night')} since "
        f"{said.since}, last on {said.until}, {joined([what for what, _ in told], 'or')}, and "
        f"nobody disarmed at once.{chance} Take each for real until somebody who was there says "
        "otherwise."
    )


def _mains(said: Said) -> str:
    outages, longest = said.get("outages"), said.get("longest_h")
    low = said.get("battery_low")
    silent = said.number("silent_h")
    parts, beyond = [], ""
    if low:
        parts.append(f"the battery was told low in {count(low, 'of them', 'of them')}")
    quiet = said.number("quiet_h")
    if silent is not None:
        parts.append(f"the panel may have been dead for up to {span(silent)}, unprotected")
    elif quiet is not None:
        parts.append(f"the panel has told nothing for {span(quiet)} since: it may be dead")
    elif said.figures.get("beyond"):
        beyond = f", longer than the {plain(said.get('standby_h'))} h its battery must last"
    tail = beyond + (f"; {' and '.join(parts)}" if parts else "")
    if said.standing:
        return (
            f"The mains of {said.site} has been off since {said.since}, "
            f"{span(said.get('open_h'))} up to the end of the log{tail}{watching.doubt(said)}."
        )
    if outages == 1:
        tail = tail.replace("in 1 of them", "meanwhile")
        return f"The mains of {said.site} was off for {span(longest)} from {said.since}{tail}."
    return (
        f"The mains of {said.site} was off for long {times(outages)} since {said.since}, "
        f"{span(longest)} at most{tail}."
    )


def _battery(said: Said) -> str:
    system = bool(said.figures.get("system"))
    whose = f"The standby battery of {said.site}" if system else f"The battery of {said.subject}"
    days = said.number("days")
    if said.figures.get("repeats"):
        window = count(said.get("window_days"), "day")
        if said.get("within") == said.get("times"):
            return (
                f"{whose} was told low {times(said.get('times'))} within {window}, from "
                f"{said.since} to {said.until}: it is weak."
            )
        return (
            f"{whose} was told low {times(said.get('times'))} since {said.since}, "
            f"{plain(said.get('within'))} of them within {window}: it is weak."
        )
    stood = span(said.get("longest_days") * 24)
    if days is not None:
        again, before = "", ""
        if said.number("longest_days") is not None:
            again, before = " again", f"; before that it stood low for {stood}"
        return (
            f"{whose} has been low{again} since {said.since}, {span(days * 24)} up to the end of "
            f"the log{before}{watching.doubt(said)}."
        )
    if said.number("low_after_min") is not None:
        return (
            f"{whose} was told low on {said.since}, {span(said.get('low_after_min') / 60)} after "
            "the mains was lost: it holds less than it should."
        )
    return f"{whose} stood low for {stood} from {said.since} before it was seen to."


def _unsupervised(said: Said) -> str:
    open_h = said.number("open_h")
    together = said.get("together")
    group = (
        f"; {count(together, 'other device')} went within ten minutes: look at the receiver first"
        if together >= 2
        else ""
    )
    lost = said.get("losses")
    if open_h is not None:
        more = f"; it was lost {times(lost)} in all" if lost > 1 else ""
        return (
            f"{said.subject} has not been heard since {said.since}, {span(open_h)} up to "
            f"the end of the log{more}{group}{watching.doubt(said)}."
        )
    if said.figures.get("repeats"):
        return (
            f"{said.subject} was lost {times(lost)} between {said.since} and {said.until}, "
            f"{span(said.get('longest_h'))} at most{group}."
        )
    longest = span(said.get("longest_h"))
    return f"{said.subject} was not heard for {longest} from {said.since}{group}."


def _reports(said: Said) -> str:
    period = span(said.get("period_h"))
    where = "at the monitoring centre" if said.figures.get("centre") else "in the panel's own log"
    sent = (
        "; the panel did send them, so the path is at fault"
        if said.figures.get("centre") and said.get("sent") > 0
        else ""
    )
    if said.figures.get("path"):
        where += f" over {said.figures['path']}"
        sent += "; over another path they do come"
    if said.get("late"):
        sent += f"; {count(said.get('late'), 'other')} came late"
    open_h = said.number("open_h")
    if open_h is not None:
        return (
            f"The test reports of {said.site}, due every {period}, stopped {where} after "
            f"{said.since}: none for {span(open_h)} up to the end of the log{sent}."
        )
    return (
        f"{count(said.get('missed'), 'test report')} of {said.site}, due every {period}, did not "
        f"show {where} between {said.since} and {said.until}{sent}."
    )


def _path(said: Said) -> str:
    parts = []
    missed = said.get("missed")
    if missed:
        held = ""
        if said.figures.get("missed_standing"):
            held = ", and none has reached it since"
        parts.append(
            f"{count(missed, 'alarm')} in a row of {said.site} did not reach the monitoring "
            f"centre on {count(said.get('days'), 'day')} from {said.since}{held}, though "
            f"{plain(said.get('carried'))} of {plain(said.get('others'))} others like them did"
        )
    open_h, path = said.number("open_h"), said.figures.get("path")
    which = f"The path {path}" if path else "A path"
    since = "" if missed else f" since {said.since}"
    if open_h is not None:
        parts.append(
            f"{which} of {said.site} has been lost{since}, {span(open_h)} up to the end of the "
            f"log{watching.doubt(said)}"
        )
    elif said.get("outages"):
        start = "" if missed else f" from {said.since}"
        more = f", and {times(said.get('outages'))} in all" if said.get("outages") > 1 else ""
        parts.append(
            f"{which} of {said.site} was lost for {span(said.get('longest_h'))}{start}{more}"
        )
    return ". ".join(_upper(part) for part in parts) + "."


def _clock(said: Said) -> str:
    whose = (
        f"The monitoring centre's clock for {said.site}"
        if said.figures.get("centre")
        else f"The clock of the panel at {said.site}"
    )
    moved, doubted = said.get("moved"), said.get("doubted")
    tail = f"; {count(moved, 'row is', 'rows are')} put right by that" if moved else ""
    if doubted:
        tail += f"; of {count(doubted, 'row')} the time is not known"
    sign = said.figures.get("sign")
    if sign == "rule":
        told = "UTC" if said.figures.get("rule") == "utc" else "standard time"
        return (
            f"{whose} keeps {told} all year and does not follow the changes of its time zone{tail}."
        )
    if sign == "reset":
        again = "again and again: " if said.get("resets") > 1 else ""
        return (
            f"{whose} lost the time {again}{times(said.get('resets'))}, first after {said.since}"
            f"{tail}."
        )
    off, error = said.get("offset_s"), said.get("plus_minus_s")
    size = f"{off_by(abs(off), error)} {'fast' if off >= 0 else 'slow'}"
    rate = said.get("drift_s_day")
    runs = ""
    if rate:
        verb = "gains" if rate > 0 else "loses"
        runs = f" and {verb} {plain(abs(rate), 1 if error < _FINE_S else 0)} s a day"
    if said.figures.get("at_least"):
        return (
            f"{whose} was put back by at least {off_by(off, 1)} on {said.until}; how long it had "
            f"been ahead is not known{tail}."
        )
    if said.standing:
        return f"{whose} is {size}{runs}, seen since {said.since}{tail}."
    return f"{whose} was {size} from {said.since} to {said.until}{tail}."


def _late(said: Said, one: str, many: str, doing: str) -> str:
    n, acts = said.get("n"), said.number("acts")
    share = ""
    if acts:
        share = (
            f" of {count(acts, one, many)} ({percent(said.get('share'))}, "
            f"{percent(said.get('share_low'))} to {percent(said.get('share_high'))})"
        )
    over, grain = said.number("over_median_s"), said.number("grain") or 1
    late = ""
    if over is not None and doing == "coming in":
        late = (
            f"; half were disarmed within {seconds_told(over, grain)} of the alarm, "
            f"the latest after {seconds_told(said.get('over_max_s'), grain)}"
        )
    if said.subject_kind == Subject.PERSON:
        often = None
        if said.q_value is not None and said.q_value <= 0.05:
            often = ratio(said.ratio, said.ratio_low, said.ratio_high)
        more = f", {often} as the others here" if often else ""
        return f"{said.subject} set the alarm off when {doing} {times(n)}{share}{more}{late}."
    where = said.site if said.subject_kind == Subject.SITE else f"{said.subject} of {said.site}"
    who = said.figures.get("who")
    most = (
        f"; most often {str(who).rsplit(':', 1)[0]}" if who and "not told" not in str(who) else ""
    )
    return f"At {where} people set the alarm off when {doing} {times(n)}{share}{late}{most}."


def _entry(said: Said) -> str:
    return _late(said, "entry", "entries", "coming in")


def _exit(said: Said) -> str:
    return _late(said, "closing", "closings", "leaving")


def _other(said: Said) -> str:
    return f"{said.subject} of {said.site}: seen from {said.since} to {said.until}."


def _list(said: Said) -> str:
    on = said.figures.get("on")
    told = [
        f"{count(said.get(key), one, many)} {what}"
        for key, one, many, what in (
            ("strange", "point of the log", "points of the log", "in no list"),
            ("renumbered", "number", "numbers", f"changed on {on}" if on else "changed"),
            ("named", "number", "numbers", "told with the name of another point"),
            ("unseen", "listed point", "listed points", "never seen where this log would show it"),
            ("life", "life-safety point", "life-safety points", "never seen: have it examined"),
        )
        if said.get(key)
    ]
    rests = ""
    if said.figures.get("touches"):
        rests = "; what is told of these numbers may belong to other points"
    return f"The zone schedule of {said.site} does not match its log: {'; '.join(told)}{rests}."


_SENTENCES: dict[str, Callable[[Said], str]] = {
    Pattern.LEFT_ON_TEST: _on_test,
    Pattern.POSSIBLE_INTRUSION: _intrusion,
    Pattern.LONE_OPENING: openings.lone_opening,
    Pattern.MAINS_OUT: _mains,
    Pattern.BATTERY_WEAK: _battery,
    Pattern.UNSUPERVISED: _unsupervised,
    Pattern.REPORT_MISSED: _reports,
    Pattern.PATH_DOWN: _path,
    Pattern.CLOCK_FAULT: _clock,
    Pattern.ENTRY_OVERRUN: _entry,
    Pattern.EXIT_OVERRUN: _exit,
    Pattern.RATE_CHANGE: changes.rate_change,
    Pattern.CHATTERING: repeats.chattering,
    Pattern.SWINGER: repeats.swinger,
    Pattern.FOLLOWS_POINT: repeats.follows_point,
    Pattern.FOLLOWS_SIREN: repeats.follows_siren,
    Pattern.AFTER_VISIT: repeats.after_visit,
    Pattern.STORM_BURST: repeats.storm_burst,
    Pattern.LIST_MISMATCH: _list,
    **using.USED,
    **COMING_GOING,
    Pattern.SILENT_ZONE: watching.silent_zone,
    Pattern.TAMPER_OPEN: watching.tamper_open,
    Pattern.MASKED: watching.masked,
    Pattern.FAULT_STANDING: watching.fault_standing,
    Pattern.RADIO_INTERFERENCE: watching.radio_interference,
    Pattern.LOG_GAP: watching.log_gap,
    **DRIVEN,
}
