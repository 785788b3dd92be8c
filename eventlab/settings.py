"""Every number that somebody may want to change, with its unit and its reason."""

from dataclasses import dataclass, field, fields


def _set(default: float, unit: str, why: str) -> float:
    value: float = field(default=default, metadata={"unit": unit, "why": why})
    return value


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of one run; ``describe`` lists them for people."""

    episode_gap_s: float = _set(600, "s", "alarms of one area closer than this belong together")
    confirmation_window_s: float = _set(
        3600, "s", "BS 8243 5.2 gives 30 to 60 min; the whole site is looked at over it"
    )
    exit_unsettled_s: float = _set(
        255, "s", "ANSI/SIA CP-01 4.2.2: the longest exit time; apart until the log decides"
    )
    memory_s: float = _set(
        10, "s", "alarms written again this soon after the disarm are memory (common practice)"
    )
    same_occurrence_s: float = _set(
        120, "s", "the same event over another path or witness (common practice)"
    )
    late_burst_s: float = _set(
        300, "s", "what a centre hears in a burst this soon after a path came back is of before"
    )
    late_burst_min: float = _set(
        5, "rows", "fewer may well happen within a minute; more at once were kept and sent"
    )
    restart_quiet_s: float = _set(
        300, "s", "what happens this soon after a restart belongs to it (common practice)"
    )
    restart_closes_s: float = _set(
        600, "s", "a condition not told again this soon after a restart is over (common practice)"
    )
    siren_min_s: float = _set(900, "s", "shortest siren time at which a held point alarms again")
    siren_max_s: float = _set(1200, "s", "longest siren time at which a held point alarms again")
    contradiction_share: float = _set(
        0.2, "share", "above this share of ordinary alarms while unarmed nothing rests on arming"
    )
    contradiction_min: float = _set(5, "alarms", "fewer contradictions than this decide nothing")
    visit_lids: float = _set(3, "points", "this many lids within the visit time: a visit")
    visit_s: float = _set(7200, "s", "the time within which lids or points make a service visit")

    clock_bar_s: float = _set(
        60, "s", "a clock nearer than this to the centre's is taken as told: receipt takes as long"
    )
    clock_off_s: float = _set(
        300, "s", "a clock this far off misleads whoever asks what happened when"
    )
    clock_off_days: float = _set(
        7, "days", "a clock that was wrong for less and then set is a record"
    )
    clock_drift_s: float = _set(
        5, "s per day", "half an hour a year; crystals keep one to four (20 to 50 ppm)"
    )
    clock_drift_most_s: float = _set(
        60, "s per day", "no crystal is so wrong: a larger step was no drift"
    )
    clock_resets_min: float = _set(
        2, "times", "a clock lost once with a power cut is a record; more, and it keeps none"
    )
    rule_days: float = _set(
        21, "days", "before and after a clock change in which openings are compared"
    )
    rule_near_min: float = _set(
        12, "min", "how near to 0 or 60 minutes a move of openings must be to decide"
    )
    rule_pairs: float = _set(6, "days", "fewer days after a change decide nothing")

    seam_gap_h: float = _set(
        24, "h", "exports further apart than this, and than any silence inside, leave a gap"
    )
    tail_days: float = _set(
        7, "days", "a last row older than this at the export time ends what the log covers"
    )
    untold_end_h: float = _set(
        24, "h", "repeats of a condition this close are one where its end is never told"
    )
    untold_tests_min: float = _set(
        3, "tests", "so many begun and none ended: their ends are not told, all but the last lapsed"
    )
    ends_untold_min: float = _set(
        10,
        "begins",
        "so many and no end of anything: the log tells no ends",
    )
    ends_untold_days: float = _set(
        3, "days", "conditions that begin on fewer days may all stand yet; more will not"
    )
    act_s: float = _set(60, "s", "arms of several areas by one person this close are one arming")
    arming_balance: float = _set(
        0.2, "share", "fewer arms per disarm, or disarms per arm, and arming cannot be followed"
    )
    after_alarm_share: float = _set(
        0.8, "share", "so many disarms after an alarm: openings are told only after one"
    )
    after_alarm_min: float = _set(3, "disarms", "fewer do not show when openings are told")
    after_alarm_s: float = _set(
        3600, "s", "a disarm this long after an alarm still answers it (common practice)"
    )
    arm_at_min: float = _set(5, "arms", "fewer do not decide where in exit time arm stands")
    arm_at_share: float = _set(
        0.7, "share", "of arms with movement near them on one side: decided for that side"
    )
    restore_near_s: float = _set(
        5, "s", "a restore this soon after a disarm or reset came from it (common practice)"
    )
    restores_min: float = _set(3, "restores", "fewer do not show that they come from disarms")
    restores_rare: float = _set(20, "alarms per restore", "rarer than this: not recorded")
    activations_min: float = _set(3, "activations", "fewer do not show that they are recorded")
    late_alarm_s: float = _set(
        120, "s", "an alarm this soon after a disarm may only be told late; no contradiction"
    )
    all_hours_min: float = _set(
        3, "alarms", "on as many days while unarmed: an unlisted point is a 24-hour point"
    )
    ceiling_max: float = _set(
        6, "trips", "ANSI/SIA CP-01: a point is shut out after 1 to 6 trips of an armed period"
    )
    ceiling_periods: float = _set(
        5, "periods", "so many end at the same number of trips and none above: a trip limit"
    )

    entry_delay_s: float = _set(30, "s", "ANSI/SIA CP-01 4.2.3 default; or the site's own")
    exit_delay_s: float = _set(60, "s", "ANSI/SIA CP-01 4.2.2 default; or the site's own")
    entry_overrun_s: float = _set(
        180, "s", "a disarm later than this after the alarm is an attendance, not an overrun"
    )
    entry_overrun_min: float = _set(3, "events", "one late evening is a record, not a finding")
    exit_overrun_min: float = _set(3, "events", "one hurried evening is a record, not a finding")

    overrun_days: float = _set(
        180, "days", "that many late entries or exits in this time; fewer a year are ordinary life"
    )
    exit_again_s: float = _set(
        300, "s", "an alarm just after arming that is disarmed this soon is somebody leaving"
    )
    still_days: float = _set(
        30, "days", "what comes and goes and was last seen this long before the end still holds"
    )

    chatter_count: float = _set(3, "activations", "ISA-18.2 / IEC 62682: three or more in a minute")
    chatter_window_s: float = _set(60, "s", "ISA-18.2 / IEC 62682: three or more in a minute")
    chatter_index: float = _set(
        0.05, "per s", "Kondaveeti et al. 2013: three a minute; told beside the count"
    )
    chatter_runs_min: float = _set(
        10, "activations", "the index of fewer says little: one quick burst a month scores high"
    )
    chatter_bursts_min: float = _set(3, "bursts", "one bad night is a record, not a finding")

    chatter_heavy: float = _set(
        30, "activations", "this many in one night with no other point near need no second night"
    )

    driver_q: float = _set(
        0.03, "share", "of healthy sites at most so many may be said to follow anything around them"
    )
    driver_lead: float = _set(
        2, "nats", "the driver named tells the alarms 7 times better than any other; else both"
    )
    driver_own_p: float = _set(0.05, "p-value", "the driver that is named must itself be proven")
    driver_to_come: float = _set(
        3, "days", "fewer days to be expected since the last do not show that it is over (e^-3)"
    )
    season_p: float = _set(
        0.2, "p-value", "if heat is no rarer than this among days near by, it may be the season"
    )

    change_rest_days: float = _set(
        5, "days", "bad spells of up to five days count once (measured on simulated backgrounds)"
    )
    change_days_min: float = _set(4, "alarm days", "fewer cannot show that a rate changed")
    change_q: float = _set(
        0.004,
        "share",
        "measured: under 1 in 100 sites with nothing wrong then show a change",
    )
    change_season: float = _set(
        6, "ratio", "a season may make a rate so many times higher; what it could explain is said"
    )

    proof_level: float = _set(
        0.95, "share", "of the interval that must lie clear of 1 before anything is better or worse"
    )
    proof_rose_p: float = _set(
        0.01, "share", "a rise before a visit that is rarer by chance is what the visit was for"
    )
    chatter_floor_count: float = _set(
        4, "alarms", "in a row, each as soon as the point can tell one; three may be chance"
    )
    floor_max_s: float = _set(
        600, "s", "detectors sleep two to three minutes, none for longer (common practice)"
    )
    floor_min: float = _set(6, "repeats", "fewer just above the shortest spacing do not show one")
    fleeting_s: float = _set(
        10,
        "s",
        "an alarm over sooner cleared by itself: fleeting (ISA-18.2; bound common practice)",
    )
    ride_s: float = _set(
        300, "s", "a tamper, low battery or mains row this near an alarm goes with it"
    )

    swinger_within_s: float = _set(
        3600, "s", "an alarm this soon after the one before is the same trouble (BS 8243 window)"
    )
    swinger_periods: float = _set(
        7, "armed periods", "one bad night, or a spell of some, is a record, not a finding"
    )
    swinger_share: float = _set(
        0.6, "share", "of the armed periods in which it alarmed; less is what bad nights bring"
    )
    swinger_spread_h: float = _set(
        12, "h", "over no more of an armed period alarms are taken to be spread by chance"
    )
    swinger_chance: float = _set(
        0.02, "points", "expected among those of a site whose alarms stand together by chance"
    )
    follows_within_s: float = _set(
        10, "s", "a supply that dips at the siren trips others in 1 to 10 s (common practice)"
    )
    follows_spread_s: float = _set(
        3600, "s", "into so little of a night the test crowds both points: routines crowd them too"
    )
    follows_nights: float = _set(5, "nights", "fewer of one point after another show nothing")
    follows_share: float = _set(
        0.8, "share", "of its nights: hardly ever alone; a row may be lost, or one alarm its own"
    )
    follows_chance: float = _set(0.001, "pairs", "expected by chance among all pairs of a site")
    storm_within_s: float = _set(
        10, "s", "points that a gust or a supply sets off trip this close (common practice)"
    )
    storm_points: float = _set(3, "points", "two that trip together may have another reason")
    storm_nights: float = _set(2, "nights", "one stormy night is a record, not a finding")
    storm_share: float = _set(
        0.02, "share", "of the hours of a place with more wind, or rain: strong for that place"
    )
    storm_rain_mm: float = _set(0.5, "mm", "less in an hour is a drizzle, however dry the place")
    storm_chance: float = _set(
        0.01, "chance", "of so many bursts meeting such weather though they follow none"
    )
    storm_weather_h: float = _set(720, "h", "less weather does not tell what is strong for a place")

    mains_out_h: float = _set(
        4, "h", "shorter outages that were restored are records; reports come with a delay"
    )
    mains_outlived_h: float = _set(
        168, "h", "no standby battery carries a panel this long (EN 50131-1: 60 h at most)"
    )
    standby_h: float = _set(
        12, "h", "EN 50131-1 grade 2 standby; beyond it the place is taken to be unprotected"
    )
    battery_days: float = _set(
        7, "days", "a low battery standing longer is overdue; one replaced sooner is a record"
    )
    battery_repeats: float = _set(3, "times", "comes and goes this often: weak")
    battery_window_days: float = _set(
        60, "days", "lows that come back within this time; one a year is a new cell each time"
    )
    recharge_h: float = _set(
        72, "h", "EN 50131-6 recharge time: a low battery this soon after an outage is no proof"
    )
    unsupervised_h: float = _set(24, "h", "a device lost for less, once, is a record")
    unsupervised_repeats: float = _set(3, "losses", "in thirty days: it fails")
    unsupervised_days: float = _set(30, "days", "the time in which repeated losses are counted")
    lost_together_s: float = _set(
        600, "s", "devices lost this close together point to their receiver (common practice)"
    )
    report_grace: float = _set(
        1.5, "periods", "a test report later than this many of its own periods was missed"
    )
    report_min: float = _set(5, "reports", "fewer than this teach no period")
    report_missed_min: float = _set(
        3, "reports", "missed at once or within thirty days; one late report is a record"
    )
    abort_s: float = _set(
        300, "s", "disarmed or cancelled this soon, an alarm may be held back (CP-01: 15 to 45 s)"
    )
    late_receipt_h: float = _set(
        24, "h", "what a centre hears within a day was late, not lost (common practice)"
    )
    path_near_s: float = _set(
        900, "s", "whatever a centre hears of a site this near an alarm shows that it heard of it"
    )
    path_missed_min: float = _set(3, "alarms", "in a row and on two days; one lost is a record")
    path_proof_min: float = _set(
        5, "alarms", "fewer that reached the centre do not show what the path should carry"
    )
    path_chance: float = _set(
        0.001, "runs", "expected by chance at the site's own rate of loss; it accuses somebody"
    )
    path_out_h: float = _set(
        24, "h", "a path lost for less that came back is a record; EN 50136 classes allow hours"
    )
    test_left_h: float = _set(12, "h", "a test that has not ended by then was left on")
    list_days: float = _set(
        2, "days", "a point in no list, or under another name, on fewer days may be a slip"
    )
    list_unseen_days: float = _set(
        30, "days", "where movement is recorded, a point on people's way shows within this time"
    )
    list_swap_points: float = _set(
        3, "points", "so many old numbers end and new ones begin on a date: they were renumbered"
    )
    list_tested_share: float = _set(
        0.5, "share", "of the listed points of a sort walk-tested: those never seen were missed"
    )
    path_silent_min_s: float = _set(
        60, "s", "a path lost for less while armed is no sign by itself"
    )
    signs_before_days: float = _set(
        7, "days", "masking, tamper or bypass this long before an alarm are looked at with it"
    )
    intrusion_nights: float = _set(
        3, "nights", "more nights of two points and no more to it stand in one finding of the site"
    )
    stays_open_s: float = _set(
        300, "s", "a door that wind moves closes again; one that is left open does not"
    )
    sign_near_s: float = _set(
        1800, "s", "tamper, path, power or log lost this close to an alarm are looked at with it"
    )
    sign_usual: float = _set(
        0.1, "share", "what a site shows on more of its nights than this is usual there, no sign"
    )
    warm_up_s: float = _set(
        120, "s", "detectors that trip this soon after a restart warm up (CP-01 4.4.3 gives 60 s)"
    )
    elsewhere_km: float = _set(
        30, "km", "mains lost at two other sites this near within the hour explain one lost here"
    )
    weather_within_km: float = _set(
        50, "km", "a weather station farther away tells little of wind and rain (common practice)"
    )
    unknown_after_days: float = _set(60, "days", "no log for this long: nothing is known")

    delay_limit_s: float = _set(
        45, "s", "EN 50131-1 entry time, from memory; CP-01 allows 60 s of entry and abort together"
    )

    unexplained_floor: float = _set(0.05, "share", "what no cause explains keeps this much")
    intrusion_floor: float = _set(
        0.02, "share", "what an unattended alarm keeps for a real intrusion, whatever the log says"
    )
    certain_ceiling: float = _set(0.97, "share", "nothing exceeds this without outcomes")
    outcome_weight: float = _set(
        100, "outcomes", "what the table of base rates counts as; with 20 a few made all less right"
    )
    outcomes_scaled: float = _set(
        30, "outcomes", "fewer move base rates only; from here on one temperature is fitted"
    )
    outcomes_shaped: float = _set(
        200, "outcomes", "from here on each cause with enough of its own is fitted apart"
    )
    outcomes_each: float = _set(20, "outcomes", "of one cause, before it is fitted apart")
    outcome_wrong: float = _set(
        0.05, "share", "of recorded outcomes are taken to be wrong: what somebody thinks it was"
    )
    ratio_cap: float = _set(20, "ratio", "one family of evidence weighs no more than this")


def describe(settings: Settings | None = None) -> list[tuple[str, float, str, str]]:
    """List every setting as (name, value, unit, reason).

    Parameters
    ----------
    settings : Settings, optional
        The settings in force; the defaults where left out.

    Returns
    -------
    list of tuple
        In the order of definition.
    """
    use = settings or Settings()
    return [
        (f.name, float(getattr(use, f.name)), f.metadata["unit"], f.metadata["why"])
        for f in fields(use)
    ]
