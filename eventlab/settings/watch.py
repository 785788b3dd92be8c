"""What must be alive: mains, batteries, devices, paths, reports, the log."""

from dataclasses import dataclass

from eventlab.settings.one import one


@dataclass(frozen=True)
class WatchSettings:
    """What must be alive: mains, batteries, devices, paths, reports, the log."""

    mains_out_h: float = one(
        4, "h", "shorter outages that were restored are records; reports come with a delay"
    )
    mains_outlived_h: float = one(
        168, "h", "no standby battery carries a panel this long (EN 50131-1: 60 h at most)"
    )
    standby_h: float = one(
        12, "h", "EN 50131-1 grade 2 standby; beyond it the place is taken to be unprotected"
    )
    standby_high_h: float = one(
        30, "h", "EN 50131-1 grades 3 and 4 where the loss is reported to a centre; 60 h where not"
    )
    battery_days: float = one(
        7, "days", "a low battery standing longer is overdue; one replaced sooner is a record"
    )
    battery_repeats: float = one(3, "times", "comes and goes this often: weak")
    battery_window_days: float = one(
        60, "days", "lows that come back within this time; one a year is a new cell each time"
    )
    battery_fleet_min: float = one(
        5, "cells", "told low in a family; fewer do not tell how long its cells last"
    )
    battery_ahead_days: float = one(
        90, "days", "cells that will be low by then are changed on the next visit"
    )
    battery_overdue: float = one(
        0.5, "chance", "to be low within that time: as likely as not it needs a visit of its own"
    )
    recharge_h: float = one(
        72, "h", "EN 50131-6 recharge time: a low battery this soon after an outage is no proof"
    )
    unsupervised_h: float = one(24, "h", "a device lost for less, once, is a record")
    unsupervised_repeats: float = one(3, "losses", "in thirty days: it fails")
    unsupervised_days: float = one(30, "days", "the time in which repeated losses are counted")
    lost_together_s: float = one(
        600, "s", "devices lost this close together point to their receiver (common practice)"
    )
    tamper_open_h: float = one(
        12, "h", "a lid that is shut the same day was a visit, or a hand: a record"
    )
    masked_h: float = one(
        4, "h", "something stood before it for less: a record; longer, and it guards nothing"
    )
    masked_repeats: float = one(3, "times", "in thirty days: somebody or something does it again")
    fault_h: float = one(24, "h", "a fault that cleared itself within a day, once, is a record")
    fault_repeats: float = one(3, "times", "in thirty days: it comes back")
    fail_apart_days: float = one(
        14, "days", "a device that fails again so soon after it was back was not seen to yet"
    )
    radio_devices: float = one(
        3, "devices", "lost together: two on one wall may have one reason of their own"
    )
    radio_waves: float = one(3, "times", "that many at once within thirty days; once is a record")
    radio_jam_h: float = one(
        4, "h", "no passer-by jams so long, and no centre hears of its end so late"
    )
    report_grace: float = one(
        1.5, "periods", "a test report later than this many of its own periods was missed"
    )
    report_min: float = one(5, "reports", "fewer than this teach no period")
    report_missed_min: float = one(
        3, "reports", "missed at once, or one by one more than a line loses: fewer are records"
    )
    report_fixed_s: float = one(
        900, "s", "reports this near to one time of day keep it; others run from the last one"
    )
    report_fixed_share: float = one(
        0.8, "share", "of reports near that time: the rest are late, or sent by hand"
    )
    report_late_s: float = one(
        900, "s", "a report this much after it was due came late (common practice)"
    )
    path_availability: float = one(
        0.97,
        "share",
        "EN 50136 class A1: 0.97; A2 0.993, A3 0.995, A4 0.998 of any 12 months (from memory)",
    )
    abort_s: float = one(
        300, "s", "disarmed or cancelled this soon, an alarm may be held back (CP-01: 15 to 45 s)"
    )
    late_receipt_h: float = one(
        24, "h", "what a centre hears within a day was late, not lost (common practice)"
    )
    path_near_s: float = one(
        900, "s", "whatever a centre hears of a site this near an alarm shows that it heard of it"
    )
    path_missed_min: float = one(3, "alarms", "in a row and on two days; one lost is a record")
    path_proof_min: float = one(
        5, "alarms", "fewer that reached the centre do not show what the path should carry"
    )
    path_chance: float = one(
        0.001, "runs", "expected by chance at the site's own rate of loss; it accuses somebody"
    )
    path_out_h: float = one(
        24, "h", "a path lost for less that came back is a record; EN 50136 classes allow hours"
    )
    test_left_h: float = one(12, "h", "a test that has not ended by then was left on")
    list_days: float = one(
        2, "days", "a point in no list, or under another name, on fewer days may be a slip"
    )
    list_unseen_days: float = one(
        30, "days", "where movement is recorded, a point on people's way shows within this time"
    )
    list_swap_points: float = one(
        3, "points", "so many old numbers end and new ones begin on a date: they were renumbered"
    )
    list_tested_share: float = one(
        0.5, "share", "of the listed points of a sort walk-tested: those never seen were missed"
    )
    report_usual_loss: float = one(
        0.03, "share", "of single reports that any line loses now and then (common practice)"
    )
    report_chance: float = one(
        0.01, "share", "of sites whose usual loss misses as many; such single reports are records"
    )
    path_silent_min_s: float = one(60, "s", "a path lost for less while armed is no sign by itself")
    log_gap_h: float = one(
        24, "h", "of the log that no export holds: a day in which anything may have happened"
    )
    log_dead_h: float = one(
        24, "h", "of silence before a restart, if no other is as long; less may be a quiet night"
    )
    log_short_days: float = one(
        30, "days", "a memory that is full and reaches back no further hides what comes monthly"
    )
    silent_others: float = one(
        2, "points", "fewer others seen on a day do not show that anybody was about"
    )
    silent_breadth: float = one(
        0.5, "share", "of the points usual on that weekday: with fewer the building was half empty"
    )
    silent_window_days: float = one(
        45, "days", "what a point did lately counts as much as its whole log: rooms have seasons"
    )
    silent_spells: float = one(
        4, "spells", "usual at the site, added to a point's own: one that never rested may yet"
    )
    silent_spell: float = one(
        0.0001,
        "chance",
        "of a spell without use that long; measured: under 1 in 100 buildings then show any",
    )
    silent_days: float = one(5, "days", "that count: a working week in which others were seen")
    silent_gaps: float = one(
        2, "times", "its own longest silence before; a room that is used in spells has such ones"
    )
    silent_chance: float = one(
        0.001, "chance", "of such a silence at any point of the site, were its days alike"
    )
