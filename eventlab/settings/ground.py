"""What every analysis stands on: episodes, clocks, coverage, powers of a log."""

from dataclasses import dataclass

from eventlab.settings.one import one


@dataclass(frozen=True)
class GroundSettings:
    """What every analysis stands on: episodes, clocks, coverage, powers of a log."""

    episode_gap_s: float = one(600, "s", "alarms of one area closer than this belong together")
    confirmation_window_s: float = one(
        3600, "s", "BS 8243 5.2 gives 30 to 60 min; the whole site is looked at over it"
    )
    exit_unsettled_s: float = one(
        255, "s", "ANSI/SIA CP-01 4.2.2: the longest exit time; apart until the log decides"
    )
    memory_s: float = one(
        10, "s", "alarms written again this soon after the disarm are memory (common practice)"
    )
    same_occurrence_s: float = one(
        120, "s", "the same event over another path or witness (common practice)"
    )
    late_burst_s: float = one(
        300, "s", "what a centre hears in a burst this soon after a path came back is of before"
    )
    late_burst_min: float = one(
        5, "rows", "fewer may well happen within a minute; more at once were kept and sent"
    )
    restart_quiet_s: float = one(
        300, "s", "what happens this soon after a restart belongs to it (common practice)"
    )
    restart_closes_s: float = one(
        600, "s", "a condition not told again this soon after a restart is over (common practice)"
    )
    siren_min_s: float = one(900, "s", "shortest siren time at which a held point alarms again")
    siren_max_s: float = one(1200, "s", "longest siren time at which a held point alarms again")
    contradiction_share: float = one(
        0.2, "share", "above this share of ordinary alarms while unarmed nothing rests on arming"
    )
    contradiction_min: float = one(5, "alarms", "fewer contradictions than this decide nothing")
    visit_lids: float = one(3, "points", "this many lids within the visit time: a visit")
    visit_s: float = one(7200, "s", "the time within which lids or points make a service visit")
    clock_bar_s: float = one(
        60, "s", "a clock nearer than this to the centre's is taken as told: receipt takes as long"
    )
    clock_off_s: float = one(
        300, "s", "a clock this far off misleads whoever asks what happened when"
    )
    clock_off_days: float = one(
        7, "days", "a clock that was wrong for less and then set is a record"
    )
    clock_drift_s: float = one(
        5, "s per day", "half an hour a year; crystals keep one to four (20 to 50 ppm)"
    )
    clock_drift_most_s: float = one(
        60, "s per day", "no crystal is so wrong: a larger step was no drift"
    )
    clock_resets_min: float = one(
        2, "times", "a clock lost once with a power cut is a record; more, and it keeps none"
    )
    rule_days: float = one(
        21, "days", "before and after a clock change in which openings are compared"
    )
    rule_near_min: float = one(
        12, "min", "how near to 0 or 60 minutes a move of openings must be to decide"
    )
    rule_pairs: float = one(6, "days", "fewer days after a change decide nothing")
    seam_gap_h: float = one(
        24, "h", "exports further apart than this, and than any silence inside, leave a gap"
    )
    tail_days: float = one(
        7, "days", "a last row older than this at the export time ends what the log covers"
    )
    untold_end_h: float = one(
        24, "h", "repeats of a condition this close are one where its end is never told"
    )
    untold_tests_min: float = one(
        3, "tests", "so many begun and none ended: their ends are not told, all but the last lapsed"
    )
    ends_untold_min: float = one(
        10,
        "begins",
        "so many and no end of anything: the log tells no ends",
    )
    ends_untold_days: float = one(
        3, "days", "conditions that begin on fewer days may all stand yet; more will not"
    )
    act_s: float = one(60, "s", "arms of several areas by one person this close are one arming")
    arming_balance: float = one(
        0.2, "share", "fewer arms per disarm, or disarms per arm, and arming cannot be followed"
    )
    after_alarm_share: float = one(
        0.8, "share", "so many disarms after an alarm: openings are told only after one"
    )
    after_alarm_min: float = one(3, "disarms", "fewer do not show when openings are told")
    after_alarm_s: float = one(
        3600, "s", "a disarm this long after an alarm still answers it (common practice)"
    )
    arm_at_min: float = one(5, "arms", "fewer do not decide where in exit time arm stands")
    arm_at_share: float = one(
        0.7, "share", "of arms with movement near them on one side: decided for that side"
    )
    restore_near_s: float = one(
        5, "s", "a restore this soon after a disarm or reset came from it (common practice)"
    )
    restores_min: float = one(3, "restores", "fewer do not show that they come from disarms")
    restores_rare: float = one(20, "alarms per restore", "rarer than this: not recorded")
    activations_min: float = one(3, "activations", "fewer do not show that they are recorded")
    late_alarm_s: float = one(
        120, "s", "an alarm this soon after a disarm may only be told late; no contradiction"
    )
    all_hours_min: float = one(
        3, "alarms", "on as many days while unarmed: an unlisted point is a 24-hour point"
    )
    ceiling_max: float = one(
        6, "trips", "ANSI/SIA CP-01: a point is shut out after 1 to 6 trips of an armed period"
    )
    ceiling_periods: float = one(
        5, "periods", "so many end at the same number of trips and none above: a trip limit"
    )
