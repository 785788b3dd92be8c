"""What must be alive, by family: which rows tell of it, and which findings are about it."""

from dataclasses import dataclass

from eventlab.schema import Kind, Pattern


@dataclass(frozen=True, slots=True)
class Family:
    """One family of lanes.

    Parameters
    ----------
    key : str
        How lanes and screens name it.
    kinds : tuple of Kind
        The rows that tell of it; none where it is told in other ways.
    patterns : tuple of Pattern
        Findings about it.
    always : bool
        Whether a site has a lane of it that no row tells of.
    device : bool
        Whether each device, or point, has its own lane.
    """

    key: str
    kinds: tuple[Kind, ...] = ()
    patterns: tuple[Pattern, ...] = ()
    always: bool = True
    device: bool = False


_FAULT = (Pattern.FAULT_STANDING,)

FAMILIES: tuple[Family, ...] = (
    Family("on-test", (Kind.ON_TEST,), (Pattern.LEFT_ON_TEST,)),
    Family("work", (Kind.WALK_TEST, Kind.ON_SITE_WORK), (Pattern.LEFT_ON_TEST,)),
    Family("log", patterns=(Pattern.LOG_GAP,)),
    Family("panel"),
    Family("centre"),
    Family("clock", patterns=(Pattern.CLOCK_FAULT,)),
    Family("mains", (Kind.MAINS_LOSS,), (Pattern.MAINS_OUT,)),
    Family("system-battery", (Kind.SYSTEM_BATTERY_LOW,), (Pattern.BATTERY_WEAK,), device=True),
    Family("path", (Kind.COMMS_FAIL,), (Pattern.PATH_DOWN,)),
    Family("arrival", patterns=(Pattern.PATH_DOWN,)),
    Family("reports", (Kind.TEST_REPORT,), (Pattern.REPORT_MISSED,)),
    Family("module", (Kind.MODULE_FAULT,), _FAULT, device=True),
    Family("siren", (Kind.SIREN_FAULT,), _FAULT, device=True),
    Family("system", (Kind.SYSTEM_FAULT,), _FAULT, always=False, device=True),
    Family("radio", (Kind.RADIO_JAM,), (Pattern.RADIO_INTERFERENCE,), always=False, device=True),
    Family("tamper", (Kind.TAMPER, Kind.TAMPER_ALARM), (Pattern.TAMPER_OPEN,), device=True),
    Family("masking", (Kind.MASKING,), (Pattern.MASKED,), device=True),
    Family("detector", (Kind.SENSOR_FAULT,), _FAULT, always=False, device=True),
    Family("battery", (Kind.DEVICE_BATTERY_LOW,), (Pattern.BATTERY_WEAK,), device=True),
    Family("supervision", (Kind.SUPERVISION_LOSS,), (Pattern.UNSUPERVISED,), device=True),
    Family("point", (Kind.BYPASS, Kind.SHUTDOWN), (Pattern.SILENT_ZONE, Pattern.LASTING_BYPASS)),
)
"""In the order in which they are read: what keeps everything else from being heard first."""

WIRELESS = ("battery", "supervision")
"""Families of wireless devices."""
