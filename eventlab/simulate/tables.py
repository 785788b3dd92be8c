"""Site list, zone schedule, weather and visits as files."""

from collections.abc import Iterable, Sequence

from eventlab.schema import Use
from eventlab.simulate.clock import ZONE_NAME, moment, wall
from eventlab.simulate.living import Lived
from eventlab.simulate.model import Building, Visit
from eventlab.simulate.weather import HOUR_S, STATION, Weather


def _csv(rows: Iterable[Sequence[str]]) -> bytes:
    lines = [",".join(f'"{c}"' if "," in c or '"' in c else c for c in row) for row in rows]
    return ("\n".join(lines) + "\n").encode()


def sites_csv(buildings: Iterable[Building]) -> bytes:
    """Write the site list."""
    rows: list[tuple[str, ...]] = [
        ("site", "name", "time_zone", "latitude", "longitude", "entry_delay_s", "exit_delay_s",
         "trade", "grade", "next_service"),
    ]  # fmt: skip
    for b in buildings:
        place = [f"{b.place[0]:.4f}", f"{b.place[1]:.4f}"]
        delays = [str(b.panel.entry_s), str(b.panel.exit_s)]
        rows.append((b.site, b.name, ZONE_NAME, *place, *delays, b.trade, b.grade, b.next_service))
    return _csv(rows)


def zones_csv(buildings: Iterable[Building]) -> bytes:
    """Write the zone schedules of all sites."""
    rows: list[tuple[str, ...]] = [
        ("site", "zone", "name", "detector", "use", "area", "armed_in", "trip_limit",
         "facing_deg", "link", "entry_route"),
    ]  # fmt: skip
    for b in buildings:
        for p in b.points:
            always = p.use in {Use.ALL_HOURS, Use.FIRE, Use.HOLD_UP, Use.MEDICAL}
            modes = "" if always else "full;part" if p.part else "full"
            limit = "" if always else str(b.panel.trip_limit)
            facing = "" if p.facing is None else f"{p.facing:g}"
            route = "yes" if p.route else "no"
            rows.append(
                (b.site, p.zone, p.name, p.detector, p.use, p.area, modes, limit, facing, p.link,
                 route)
            )  # fmt: skip
    return _csv(rows)


def weather_csv(weather: Weather, start: int, end: int) -> bytes:
    """Write the hours that the station told between two moments."""
    rows: list[tuple[str, ...]] = [
        ("station", "time_utc", "temperature_c", "wind_m_s", "gust_m_s", "rain_mm")
    ]
    for hour, told in enumerate(weather.told):
        at = weather.start + hour * HOUR_S
        if told and start <= at < end:
            values = (
                weather.temperature[hour], weather.wind[hour], weather.gust[hour],
                weather.rain[hour],
            )  # fmt: skip
            # Adding zero turns -0.0 into 0.0.
            numbers = [f"{value + 0.0:.1f}" for value in values]
            rows.append((STATION, moment(at).strftime("%Y-%m-%dT%H:%MZ"), *numbers))
    return _csv(rows)


def visits_csv(lived: Iterable[Lived]) -> bytes:
    """Write the service visits, by site and time, in local time."""
    rows: list[tuple[str, ...]] = [("site", "at", "zones", "work", "technician")]
    for one in lived:
        for visit in sorted(one.world.visits, key=_when):
            if one.world.start <= visit.at < one.world.end:
                at = wall(visit.at).strftime("%Y-%m-%d %H:%M")
                rows.append(
                    (one.building.site, at, ";".join(visit.zones), visit.work, visit.technician)
                )
    return _csv(rows)


def _when(visit: Visit) -> int:
    return visit.at
