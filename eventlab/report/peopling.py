"""What the page of how a place is used says, a sentence for each of its parts."""

from collections.abc import Mapping, Sequence
from typing import Any

from eventlab.report.words import count, joined, percent, plain, ratio, seconds_told, span, times
from eventlab.schema import Verdict

HEADING = "Figures about codes, not proof about people; local employment and privacy law decides."
NOT_RECORDED = "not recorded"
MACHINES = {
    "timer": "a timer",
    "system": "the system",
    "remote": "a remote command",
    "key": "a key switch",
    "installer": "the installer",
}

Row = Mapping[str, Any]


def entry_sentence(all_: Row) -> str:
    """Say how long entries took against the delay, or how late the late ones were.

    Parameters
    ----------
    all_ : mapping
        ``entries``, ``timed`` (those with a first door), ``half_s``, ``most_s``, ``delay_s``,
        ``delay_listed``, ``close`` (within 5 s of the delay or over it), ``late``, ``late_share``,
        ``late_low``, ``late_high``, ``over_s``, ``over_most_s``, ``grain`` of one site.
    """
    n, late, grain = all_["entries"], all_["late"], all_["grain"] or 1
    if not n:
        return f"Entries: {NOT_RECORDED}."
    delay = plain(all_["delay_s"])
    whose = "its entry delay" if all_["delay_listed"] else "the usual entry delay (not listed)"
    share = (
        f"on {plain(late)} of {count(n, 'entry', 'entries')} the alarm went off before anyone "
        f"disarmed: {_in_100(all_)}"
    )
    if all_["timed"]:
        left = all_["delay_s"] - all_["half_s"]
        margin = f"{plain(abs(left))} s {'left' if left >= 0 else 'over'}"
        return (
            f"Half of {count(all_['timed'], 'entry', 'entries')} took up to "
            f"{seconds_told(all_['half_s'], grain)} from the first door to the disarm, with "
            f"{margin} of {whose} of {delay} s; the longest took "
            f"{seconds_told(all_['most_s'], grain)}. {share[:1].upper()}{share[1:]}."
        )
    if not late:
        return (
            f"On none of {count(n, 'entry', 'entries')} the alarm went off. This log tells no door "
            "before a disarm, so how much time people had left is not recorded."
        )
    return (
        f"{share[:1].upper()}{share[1:]}. Half of these alarms were switched off within "
        f"{seconds_told(all_['over_s'], grain)}, the last one after "
        f"{seconds_told(all_['over_most_s'], grain)}. This log tells no door before an alarm, so "
        "how much time the others had left is not recorded."
    )


def _in_100(all_: Row) -> str:
    """Say a share with its limits, as people say it."""
    return (
        f"{percent(all_['late_share'])}, and the true share lies between "
        f"{percent(all_['late_low'])} and {percent(all_['late_high'])}"
    )


def door_sentence(doors: Sequence[Row], entries: int, *, timed: bool) -> str:
    """Say which door comes first, and whether the keypad may stand at another one.

    Parameters
    ----------
    doors : sequence of mapping
        ``label``, ``entries``, ``late``, ``half_s``, ``delay_s``, ``on_route``, most used first.
    entries : int
        All entries.
    timed : bool
        Whether the log tells openings and movement on the way in; else only alarms show a way.
    """
    told = sum(one["entries"] for one in doors)
    if not told:
        return f"Which door comes first: {NOT_RECORDED}. This log tells no opening before a disarm."
    first = doors[0]
    text = (
        f"{first['label']} comes first on {plain(first['entries'])} of the "
        f"{count(told, 'entry', 'entries')} whose way in is known"
    )
    if told < entries:
        text += f"; of the other {plain(entries - told)} it is not recorded"
    if not timed:
        text += ": this log shows the way in only where an alarm was raised on it"
    off = [one for one in doors if not one["on_route"] and one["entries"] >= 3]
    signs = []
    if off:
        names = joined([one["label"] for one in off[:3]])
        signs.append(
            f"{names} {'stands' if len(off) == 1 else 'stand'} on no entry route and still "
            f"{'comes' if len(off) == 1 else 'come'} first: do people use another way in?"
        )
    slow = [
        one
        for one in doors
        if one["half_s"] is not None
        and one["entries"] >= 5
        and one["half_s"] > 0.8 * one["delay_s"]
    ]
    if slow:
        names = joined([one["label"] for one in slow[:3]])
        signs.append(
            f"from {names} half of the people need more than four fifths of the delay: does the "
            "keypad stand at the wrong door?"
        )
    return f"{text}." + "".join(f" {sign[:1].upper()}{sign[1:]}" for sign in signs)


def keypad_sentence(keypads: Mapping[str, int]) -> str:
    """Say which keypads people disarm at, by how often.

    Parameters
    ----------
    keypads : mapping of str to int
        Label and openings of each; empty where the log tells none.
    """
    if not keypads:
        return f"Which keypad is used: {NOT_RECORDED}."
    told = [f"{label} ({plain(many)})" for label, many in keypads.items()]
    return f"Disarmed at {joined(told[:4])}."


def exit_sentence(all_: Row) -> str:
    """Say what went wrong on leaving.

    Parameters
    ----------
    all_ : mapping
        ``exits``, ``late``, ``late_share``, ``late_low``, ``late_high``, ``again``, ``inside``,
        ``by_timer``, ``recent``, ``recent_s``, ``timed`` (closings of which the way out is told),
        ``half_s``, ``most_s``, ``delay_s``, ``delay_listed`` of one site.
    """
    if not all_["exits"]:
        return f"Closings: {NOT_RECORDED}."
    text = (
        f"On {plain(all_['late'])} of {count(all_['exits'], 'closing')} the alarm went off on the "
        f"way out: {_in_100(all_)}. After {plain(all_['again'])} somebody came back and armed once "
        "more"
    )
    way = " How long people took to leave is not recorded."
    if all_["timed"]:
        left = all_["delay_s"] - all_["half_s"]
        whose = "its exit delay" if all_["delay_listed"] else "the usual exit delay (not listed)"
        way = (
            f" Half of {count(all_['timed'], 'closing')} of which the way out is told had the last "
            f"movement on it {plain(all_['half_s'])} s after arming, with {plain(abs(left))} s "
            f"{'left' if left >= 0 else 'over'} of {whose} of {plain(all_['delay_s'])} s."
        )
    inside = all_["inside"]
    if inside:
        timer = all_["by_timer"]
        by = f", {plain(timer)} of them by a timer" if timer else ""
        text += f"; {times(inside)} somebody was still inside{by}"
    return (
        f"{text}. {count(all_['recent'], 'alarm')} came within {plain(all_['recent_s'])} s of a "
        f"closing.{way}"
    )


def people_sentence(people: Sequence[Row], *, shared: bool) -> str:
    """Say how the codes differ, or why nothing is said by code.

    Parameters
    ----------
    people : sequence of mapping
        ``who``, ``what``, ``alarms``, ``acts``, ``expected``, ``expected_low``, ``expected_high``.
    shared : bool
        Whether one code is shared.
    """
    if shared:
        return (
            "One code does most of the openings on all weekdays: it is a shared code, so no "
            "figures are told by person."
        )
    told = [one for one in people if one["what"] == "person" and one["expected"] is not None]
    if not told:
        return f"Alarms by code: {NOT_RECORDED}. This log tells no user with openings and closings."
    if not sum(one["alarms"] for one in told):
        return f"None of {count(len(told), 'code')} set the alarm off when coming or leaving."
    worst = max(told, key=lambda one: one["expected"])
    usual = 100 * sum(one["alarms"] for one in told) / max(sum(one["acts"] for one in told), 1)
    apart = worst["expected_low"] > usual
    text = (
        f"In 100 entries and closings the alarm goes off {plain(usual, 1)} times. Most often it "
        f"does so with {worst['who']}: about {plain(worst['expected'], 1)} times in 100 "
        f"({plain(worst['expected_low'], 1)} to {plain(worst['expected_high'], 1)})"
    )
    rest = "more than is usual here" if apart else "which chance alone may bring"
    return (
        f"{text}, {rest}. Of a code that was used little this says little: its figure is kept near "
        "the usual one, so that one bad evening is no verdict."
    )


def bypass_sentence(spans: Sequence[Row], *, told: bool) -> str:
    """Say how often points were left out and which still are."""
    if not spans:
        return "This log tells of no point that was left out (bypassed)."
    open_ = sorted({one["label"] for one in spans if one["open"]})
    points = len({one["label"] for one in spans})
    text = f"{count(len(spans), 'bypass', 'bypasses')} of {count(points, 'point')}"
    if open_:
        more = f" and {len(open_) - 3} more" if len(open_) > 3 else ""
        still = "is" if len(open_) == 1 else "are"
        text += f"; {joined(open_[:3])}{more} {still} not shown lifted"
    ends = "" if told else " This log tells no end of a bypass: each is taken to end at a disarm."
    return f"{text}.{ends}"


def areas_sentence(never: Sequence[str], part: Row) -> str:
    """Say which areas were never armed, and what part arming leaves out.

    Parameters
    ----------
    never : sequence of str
        Areas with points that were never armed.
    part : mapping
        ``armings``, ``part`` (part armings), ``alarmed`` (labels of points that part arming
        leaves out and that alarmed in full arming), ``unknown`` (points of which it is not known).
    """
    told = []
    if never:
        what = "Area" if len(never) == 1 else "Areas"
        were = "was" if len(never) == 1 else "were"
        told.append(f"{what} {joined(list(never))} {were} never armed in this log.")
    else:
        told.append("Every area with points was armed at some time.")
    if part["part"]:
        told.append(
            f"{plain(part['part'])} of {count(part['armings'], 'arming')} were part arming."
        )
        if part["alarmed"]:
            names = joined(list(part["alarmed"])[:4])
            told.append(f"It leaves out {names}, which alarmed while all was armed.")
        if part["unknown"]:
            told.append(
                f"Of {count(part['unknown'], 'point')} it is not recorded whether part arming "
                "includes them."
            )
    return " ".join(told)


def mistakes_sentence(row: Row) -> str:
    """Say how many wrong codes and cancels there were, and how long they took."""
    grain = row["grain"] or 1
    told = []
    if row["wrong"]:
        right = ""
        if row["righted"]:
            all_ = row["righted"] == row["wrong"]
            each = "each time" if all_ else times(row["righted"])
            right = (
                f"; {each} the right one followed, half of the times within "
                f"{seconds_told(row['right_s'], grain)}"
            )
        told.append(f"A wrong code was keyed {times(row['wrong'])}{right}.")
    else:
        told.append("No wrong code stands in this log; many panels record none.")
    if row["cancels"]:
        took = row["cancel_s"]
        half = f", half of them within {span(took / 3600)}" if took is not None else ""
        told.append(f"Users cancelled {count(row['cancels'], 'alarm')}{half}.")
    if not row.get("listed"):
        told.append(
            "A code that was never used stands in no row; a list of users (site, user, name, "
            "since, until) would show it."
        )
    return " ".join(told)


def questions(people: Sequence[Row]) -> list[str]:
    """Ask, kindly, about codes that are not used or only at hours when hardly anyone comes."""
    asked = []
    for one in people:
        if one["unused_d"]:
            asked.append(
                f"{one['label']} was last used {count(one['unused_d'], 'day')} before the end of "
                "this log: is it still needed?"
            )
        if one["odd"]:
            asked.append(
                f"{one['label']} is used only at hours at which others hardly come: is that as "
                "agreed, a cleaner or a round perhaps?"
            )
    return asked


def listed_questions(asked: Sequence[Row], days: int) -> list[str]:
    """Ask, kindly, about codes that do not fit the list of users; nobody is named.

    Parameters
    ----------
    asked : sequence of mapping
        As `analysis.listed_codes.against_list` gives them, with ``label``.
    days : int
        How many days the log covers.
    """
    told = []
    for one in asked:
        if one["asks"] == "never":
            told.append(
                f"{one['label']} stands in the list of users and was not used once in the "
                f"{count(min(one['days'], days), 'day')} that this log covers of it: is the code "
                "still needed?"
            )
        elif one["asks"] == "ended":
            told.append(
                f"{one['label']} was to end on {one['until']:%-d %b %Y} and was used after that, "
                f"last on {one['last']:%-d %b %Y}: was it given on, or is the list old?"
            )
        else:
            told.append(f"{one['label']} is used and stands in no list of users: whose code is it?")
    return told


def apart_questions(asked: Sequence[Row]) -> list[str]:
    """Ask, kindly, how one name could be at two places at once; nobody is named.

    Parameters
    ----------
    asked : sequence of mapping
        As `analysis.listed_codes.far_apart` gives them, with ``label``, ``local`` (wall) and
        ``other_name``.
    """
    return [
        f"{one['label']} was used here and, under the same name, at {one['other_name']}, "
        f"{plain(one['km'])} km away, {count(max(1, round(one['minutes'])), 'minute')} apart "
        f"({one['local']:%-d %b %Y %H:%M}"
        + (f", and {times(one['times'] - 1)} before" if one["times"] > 1 else "")
        + "): is a code shared, or is one of the two clocks wrong?"
        for one in asked
    ]


def trained_sentence(row: Row, who: str | None) -> str:
    """Say what training came to, for all or for one code."""
    whose = f"{who}: " if who else "All together: "
    text = (
        f"{whose}{count(row['before_late'], 'alarm')} in {plain(row['before_acts'])} entries and "
        f"closings before, {plain(row['after_late'])} in {plain(row['after_acts'])} after: "
        f"{row['verdict']}"
    )
    if row["verdict"] == Verdict.WORSE:
        often = ratio(row["ratio"], row["ratio_low"], row["ratio_high"])
        return f"{text}{', ' + often if often else ''}."
    if row["verdict"] == Verdict.BETTER:
        return (
            f"{text}, {plain(row['ratio'], 2)} times as often ({plain(row['ratio_low'], 2)} to "
            f"{plain(row['ratio_high'], 2)})."
        )
    more = row["more_acts"]
    if more:
        needed = count(more, "more entry or closing", "more entries and closings")
        return f"{text}; {needed} without an alarm would settle it."
    return f"{text}."
