"""What may have been an intrusion, what an alarm came from, what is advised."""

from dataclasses import dataclass

from eventlab.settings.one import one


@dataclass(frozen=True)
class CauseSettings:
    """What may have been an intrusion, what an alarm came from, what is advised."""

    signs_before_days: float = one(
        7, "days", "masking, tamper or bypass this long before an alarm are looked at with it"
    )
    tried_usual_days: float = one(
        60, "days", "before the week of a trial: what alarmed there as often then rattles"
    )
    tried_chance: float = one(
        0.2, "chance", "of so many nights in that week by a rattle, in which no trial must hide"
    )
    shut_out_h: float = one(
        12, "h", "who shuts a way in out by tripping it comes in the same night (common practice)"
    )
    intrusion_nights: float = one(
        1, "nights", "more nights with one reason and no more to it stand in one finding of a site"
    )
    stays_open_s: float = one(
        300, "s", "a door that wind moves closes again; one that is left open does not"
    )
    stays_usual: float = one(
        0.25, "share", "of the openings that alarmed; if more have no end, the log leaves ends out"
    )
    sign_near_s: float = one(
        1800, "s", "tamper, path, power or log lost this close to an alarm are looked at with it"
    )
    sign_usual: float = one(
        0.1, "share", "what a site shows on more of its nights than this is usual there, no sign"
    )
    warm_up_s: float = one(
        120, "s", "detectors that trip this soon after a restart warm up (CP-01 4.4.3 gives 60 s)"
    )
    elsewhere_km: float = one(
        30, "km", "mains lost at two other sites this near within the hour explain one lost here"
    )
    weather_within_km: float = one(
        50, "km", "a weather station farther away tells little of wind and rain (common practice)"
    )
    unknown_after_days: float = one(60, "days", "no log for this long: nothing is known")
    delay_limit_s: float = one(
        45, "s", "EN 50131-1 entry time, from memory; CP-01 allows 60 s of entry and abort together"
    )
    unexplained_floor: float = one(
        0.05, "share", "what no cause explains keeps this much; recorded outcomes make it less"
    )
    intrusion_floor: float = one(
        0.02, "share", "what an unattended alarm keeps for a real intrusion, whatever the log says"
    )
    certain_ceiling: float = one(0.97, "share", "nothing exceeds this without outcomes")
    outcome_weight: float = one(
        100, "outcomes", "what the table of base rates counts as; with 20 a few made all less right"
    )
    outcomes_scaled: float = one(
        30, "outcomes", "fewer move base rates only; from here on one temperature is fitted"
    )
    outcomes_shaped: float = one(
        200, "outcomes", "from here on each cause with enough of its own is fitted apart"
    )
    outcomes_each: float = one(20, "outcomes", "of one cause, before it is fitted apart")
    outcome_wrong: float = one(
        0.05, "share", "of recorded outcomes are taken to be wrong: what somebody thinks it was"
    )
    ratio_cap: float = one(20, "ratio", "one family of evidence weighs no more than this")
    evidence_sharpness: float = one(
        2.4,
        "factor",
        "on the sum of ln ratios, until outcomes speak: capped ratios told too little on 400"
        " simulated sites that no figure is taken from (log loss least from 2.2 to 2.5)",
    )
