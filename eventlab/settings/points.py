"""What troubles a point: chatter, drivers, change, neighbours, storms."""

from dataclasses import dataclass

from eventlab.settings.one import one


@dataclass(frozen=True)
class PointSettings:
    """What troubles a point: chatter, drivers, change, neighbours, storms."""

    still_days: float = one(
        30, "days", "what comes and goes and was last seen this long before the end still holds"
    )
    chatter_count: float = one(3, "activations", "ISA-18.2 / IEC 62682: three or more in a minute")
    chatter_window_s: float = one(60, "s", "ISA-18.2 / IEC 62682: three or more in a minute")
    chatter_index: float = one(
        0.05, "per s", "Kondaveeti et al. 2013: three a minute; told beside the count"
    )
    chatter_runs_min: float = one(
        10, "activations", "the index of fewer says little: one quick burst a month scores high"
    )
    chatter_bursts_min: float = one(3, "bursts", "one bad night is a record, not a finding")
    chatter_heavy: float = one(
        30, "activations", "this many in one night with no other point near need no second night"
    )
    driver_q: float = one(
        0.03, "share", "of healthy sites at most so many may be said to follow anything around them"
    )
    driver_lead: float = one(
        2, "nats", "the driver named tells the alarms 7 times better than any other; else both"
    )
    sun_rain_mm: float = one(
        0.2, "mm in the hour", "one tip of a common gauge; less may be dew: more hides the sun"
    )
    sun_cloud_oktas: float = one(
        7.5, "eighths", "overcast is eight eighths (WMO-No. 306): from this on nothing shines in"
    )
    sun_light_share: float = one(
        0.25, "share", "closed cloud lets through a quarter of a clear sky (Kasten, Czeplak 1980)"
    )
    driver_own_p: float = one(0.05, "p-value", "the driver that is named must itself be proven")
    driver_to_come: float = one(
        3, "days", "fewer days to be expected since the last do not show that it is over (e^-3)"
    )
    season_p: float = one(
        0.2, "p-value", "if heat is no rarer than this among days near by, it may be the season"
    )
    change_rest_days: float = one(
        5, "days", "bad spells of up to five days count once (measured on simulated backgrounds)"
    )
    change_days_min: float = one(4, "alarm days", "fewer cannot show that a rate changed")
    change_q: float = one(
        0.004,
        "share",
        "measured: under 1 in 100 sites with nothing wrong then show a change",
    )
    change_few: float = one(10, "alarm days", "fewer at the higher rate must be the surer")
    change_few_q: float = one(
        0.0005,
        "share",
        "measured: of those of fewer days at the other bar 2 in 20 were right",
    )
    change_season: float = one(
        6, "ratio", "a season may make a rate so many times higher; what it could explain is said"
    )
    proof_level: float = one(
        0.95, "share", "of the interval that must lie clear of 1 before anything is better or worse"
    )
    proof_rose_p: float = one(
        0.01, "share", "a rise before a visit that is rarer by chance is what the visit was for"
    )
    chatter_floor_count: float = one(
        4, "alarms", "in a row, each as soon as the point can tell one; three may be chance"
    )
    floor_max_s: float = one(
        600, "s", "detectors sleep two to three minutes, none for longer (common practice)"
    )
    floor_min: float = one(6, "repeats", "fewer just above the shortest spacing do not show one")
    fleeting_s: float = one(
        10,
        "s",
        "an alarm over sooner cleared by itself: fleeting (ISA-18.2; bound common practice)",
    )
    ride_s: float = one(
        300, "s", "a tamper, low battery or mains row this near an alarm goes with it"
    )
    swinger_within_s: float = one(
        3600, "s", "an alarm this soon after the one before is the same trouble (BS 8243 window)"
    )
    swinger_periods: float = one(
        7, "armed periods", "one bad night, or a spell of some, is a record, not a finding"
    )
    swinger_share: float = one(
        0.6, "share", "of the armed periods in which it alarmed; less is what bad nights bring"
    )
    swinger_spread_h: float = one(
        12, "h", "over no more of an armed period alarms are taken to be spread by chance"
    )
    swinger_chance: float = one(
        0.02, "points", "expected among those of a site whose alarms stand together by chance"
    )
    follows_within_s: float = one(
        10, "s", "a supply that dips at the siren trips others in 1 to 10 s (common practice)"
    )
    follows_spread_s: float = one(
        3600, "s", "into so little of a night the test crowds both points: routines crowd them too"
    )
    follows_nights: float = one(5, "nights", "fewer of one point after another show nothing")
    follows_share: float = one(
        0.8, "share", "of its nights: hardly ever alone; a row may be lost, or one alarm its own"
    )
    follows_chance: float = one(0.001, "pairs", "expected by chance among all pairs of a site")
    siren_shortest_s: float = one(
        150, "s", "sirens sound 3 min or more, by many local rules 15 to 20 (common practice)"
    )
    siren_longest_s: float = one(
        1260, "s", "20 min and a minute: EN 50131-1 from memory, 90 s to 15"
    )
    siren_same_s: float = one(
        10, "s", "what the end of a siren sets off trips in 1 to 10 s, as at its beginning"
    )
    siren_nights: float = one(4, "nights", "fewer at the same delay show nothing")
    siren_share: float = one(
        0.6, "share", "of the nights it alarmed after another point while a siren may have sounded"
    )
    siren_hours: float = one(
        3, "hours of the day", "begun in fewer, the two points may follow the clock, each its time"
    )
    siren_chance: float = one(0.001, "points", "expected by chance among all points of a site")
    visits_least: float = one(
        3, "visits", "one or two with alarms after them show nothing, however many alarms"
    )
    visits_apart: float = one(14, "days", "visits in a row are one piece of work")
    visits_share: float = one(
        0.6, "share", "of the visits that may have touched it are followed by an alarm"
    )
    visits_before: float = one(
        0.34, "share", "of those followed, had it alarmed before: more were called for by alarms"
    )
    visits_chance: float = one(0.01, "points", "expected by chance among all points of a site")
    storm_within_s: float = one(
        10, "s", "points that a gust or a supply sets off trip this close (common practice)"
    )
    storm_points: float = one(3, "points", "two that trip together may have another reason")
    storm_nights: float = one(2, "nights", "one stormy night is a record, not a finding")
    storm_share: float = one(
        0.02, "share", "of the hours of a place with more wind, or rain: strong for that place"
    )
    storm_rain_mm: float = one(0.5, "mm", "less in an hour is a drizzle, however dry the place")
    storm_chance: float = one(
        0.01, "chance", "of so many bursts meeting such weather though they follow none"
    )
    storm_weather_h: float = one(720, "h", "less weather does not tell what is strong for a place")
