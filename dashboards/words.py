"""How numbers, times and things are said on the screens."""

from datetime import UTC, date, datetime, timedelta

from eventlab.schema import CERTAINTY, MOMENTS, Kind, Pattern, Phase, Timing

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

PATTERN_WORDS: dict[str, str] = {
    Pattern.CHATTERING: "chatters",
    Pattern.SWINGER: "trips again and again",
    Pattern.FOLLOWS_SUN: "follows the sun",
    Pattern.FOLLOWS_CLOCK: "follows the clock",
    Pattern.FOLLOWS_TEMPERATURE: "follows the temperature",
    Pattern.FOLLOWS_WIND: "follows the wind",
    Pattern.FOLLOWS_RAIN: "follows the rain",
    Pattern.STORM_BURST: "burst in a storm",
    Pattern.FOLLOWS_POINT: "alarms just after another point",
    Pattern.FOLLOWS_SIREN: "alarms as the siren stops",
    Pattern.AFTER_VISIT: "alarms after visits",
    Pattern.ENTRY_OVERRUN: "entry took too long",
    Pattern.EXIT_OVERRUN: "leaving took too long",
    Pattern.MAINS_OUT: "mains supply out",
    Pattern.BATTERY_WEAK: "battery weak",
    Pattern.UNSUPERVISED: "device not heard of",
    Pattern.REPORT_MISSED: "test report missed",
    Pattern.LEFT_ON_TEST: "left on test",
    Pattern.POSSIBLE_INTRUSION: "possible intrusion",
    Pattern.LONE_OPENING: "a door or window alone",
    Pattern.LIST_MISMATCH: "list does not match the log",
}
"""Where the name of a pattern with spaces for hyphens would not read as words."""


WAYS = {"phone": "by phone", "letter": "by letter", "visit": "visit"}
"""How the first step towards a finding is made, as the advice says it."""


def number(value: float | None, digits: int = 0) -> str:
    """Say a number with thin groups of three; a dash where there is none."""
    if value is None:
        return "–"
    return f"{value:,.{digits}f}".replace(",", "\u202f")


def count(many: int, one: str, more: str | None = None) -> str:
    """Say a count with its noun: ``1 alarm``, ``2 alarms``."""
    return f"{number(many)} {one if many == 1 else more or one + 's'}"


def rate(value: float | None) -> str:
    """Say a rate with as many figures as it carries."""
    if value is None:
        return "–"
    digits = 0 if value >= 10 or value == 0 else 1 if value >= 0.1 else 2
    return number(value, digits)


def day(value: date | None) -> str:
    """Say a date: ``3 Mar 2026``."""
    return "–" if value is None else f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def moment(value: datetime | None) -> str:
    """Say a wall-clock time to the second: ``3 Mar 2026, 14:02:31``."""
    return "–" if value is None else f"{day(value.date())}, {value:%H:%M:%S}"


def age(then: datetime | None, now: datetime | None = None) -> str:
    """Say how long ago something was, in its one fitting unit."""
    if then is None:
        return "never"
    past = (now or datetime.now(UTC)) - then
    if past < timedelta(hours=1):
        return "within the hour"
    if past < timedelta(days=2):
        return count(int(past.total_seconds() // 3600), "hour")
    return count(past.days, "day")


def confidence(value: float | None) -> str:
    """Say how sure a finding is: the word first, the number second."""
    if value is None:
        return "how sure: not measured"
    word = next(name for bar, name in CERTAINTY if value >= bar)
    return f"{word} ({number(value * 100)} in 100)"


def kind(value: str, phase: str | None = None) -> str:
    """Say what an event is: ``mains loss``, ``mains loss ends``."""
    said = "hold-up" if value == Kind.HOLD_UP else value.replace("-", " ")
    return f"{said} ends" if phase == Phase.END else said


MEANINGS: dict[str, tuple[str, str]] = {
    kind(one, phase): (str(one), str(phase))
    for one in sorted(Kind, key=str)
    if one is not Kind.UNREAD
    for phase in ((Phase.MOMENT,) if one in MOMENTS else (Phase.BEGIN, Phase.END))
}
"""What a row can mean, in words: kind and phase by how they are said."""


def pattern(value: str) -> str:
    """Say the name of a finding in words."""
    return PATTERN_WORDS.get(value, value.replace("-", " "))


def timing(value: str | None) -> str:
    """Say what must be known about an event's time; empty where it is sure."""
    return {
        Timing.DOUBTFUL: "time doubtful",
        Timing.BY_ORDER: "repeated hour, told apart by order",
        Timing.SHIFTED: "clock offset corrected",
    }.get(value or "", "")
