"""A lab of invented sites with the same face as the real one, for fast tests of the screens.

Nothing is computed from logs here; what the analyses would find is written down.
"""

from datetime import date, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import numpy as np
import polars as pl

from eventlab.errors import InputError, NotFound
from eventlab.lab import HowSure, Learned
from eventlab.lab.learning import CURVE
from eventlab.schema import EVENT, FINDING, TAUGHT, Cause, Kind, Phase, conform
from tests.dashboards import fake_alive, fake_people, fake_proof
from tests.dashboards.points import point_view
from tests.dashboards.tarn import (
    FIRST,
    LAST,
    LATER,
    LEADING,
    LEADING_PATTERN,
    LEADING_SETTLE,
    LOST,
    NOW,
    ON_TEST,
    POINTS,
    QUESTIONS,
    SILENT,
    SITES,
    ZONE,
    Raster,
    Result,
    View,
    exports,
    strangers,
    unread_rows,
)
from tests.dashboards.tarn import findings as found
from tests.dashboards.tarn import sun as sun_hours


class FakeLab:
    """Every method of the lab that the screens use."""

    def __init__(self, *, nights=None, sites=SITES, extra_marks=0, outcomes=0):
        self.first = LAST - timedelta(days=nights - 1) if nights else FIRST
        self.listed = sites
        self.extra_marks = extra_marks
        self.outcomes = outcomes
        self.taken = []
        self._waiting = {}
        self.fail = None
        self.lessons = {}
        self.changed = 0

    def now(self):
        return NOW

    def version(self):
        self._maybe_fail()
        return f"{len(self.taken)} {self.changed}"

    def how_sure(self):
        self._maybe_fail()
        causes = pl.DataFrame({"cause": [str(one) for one in Cause]}).with_columns(
            table=pl.lit(0.1), told=pl.lit(self.outcomes // 10), share=pl.lit(0.1)
        )
        if not self.outcomes:
            nothing = pl.DataFrame(schema={"use": pl.String, "outcomes": pl.UInt32})
            unknown = pl.DataFrame(schema={"outcome": pl.String, "rows": pl.UInt32})
            curve = pl.DataFrame(schema=CURVE)
            basis = "from the table of common practice, no outcomes recorded"
            return HowSure(basis, nothing, unknown, causes, curve)
        curve = pl.DataFrame({"told": [0.3, 0.6, 0.9], "true": [0.35, 0.7, 0.95],
                              "low": [0.25, 0.58, 0.88], "high": [0.46, 0.8, 0.99],
                              "nights": [self.outcomes // 3] * 3})  # fmt: skip
        return HowSure(
            f"from {self.outcomes} recorded outcomes; sites that were visited are no random sample",
            pl.DataFrame({"use": ["learned from"], "outcomes": [self.outcomes]}),
            pl.DataFrame({"outcome": ["something odd"], "rows": [3]}),
            causes, curve, 0.06, 0.05, 0.11, 0.31, 0.78,
        )  # fmt: skip

    def sites(self):
        self._maybe_fail()
        rows = []
        for number, (site, name, trade, latitude, longitude, yearly, _) in enumerate(self.listed):
            rng = np.random.default_rng(number)
            trend = rng.poisson(yearly / 52, 26).tolist()
            silent = site in SILENT
            rows.append(
                {
                    "site": site,
                    "name": name,
                    "leading": LEADING.get(site),
                    "leading_pattern": LEADING_PATTERN.get(site),
                    "leading_settle": LEADING_SETTLE.get(site),
                    "findings": sum(one["site"] == site for one in found()),
                    "intrusion": site == "2106",
                    "standing_lost": LOST.get(site, 0),
                    "on_test": site in ON_TEST,
                    "alarms": yearly,
                    "alarms_30d": 0 if silent else sum(trend[-4:]),
                    "trend": [0] * 26 if silent else trend,
                    "rate_30d": None if silent else yearly / 12.2,
                    "points": len(POINTS),
                    "newest": NOW - timedelta(days=83 if silent else number % 5, hours=number),
                    "known": not silent,
                    "latitude": latitude,
                    "longitude": longitude,
                    "trade": trade,
                }
            )
        return pl.DataFrame(
            rows,
            schema={
                "site": pl.String,
                "name": pl.String,
                "leading": pl.String,
                "leading_pattern": pl.String,
                "leading_settle": pl.String,
                "findings": pl.Int64,
                "intrusion": pl.Boolean,
                "standing_lost": pl.Int64,
                "on_test": pl.Boolean,
                "alarms": pl.Int64,
                "alarms_30d": pl.Int64,
                "trend": pl.List(pl.Int64),
                "rate_30d": pl.Float64,
                "points": pl.Int64,
                "newest": pl.Datetime("us", "UTC"),
                "known": pl.Boolean,
                "latitude": pl.Float64,
                "longitude": pl.Float64,
                "trade": pl.String,
            },
        )

    def site(self, site):
        self._maybe_fail()
        row = self._row(site)
        powers = pl.DataFrame(
            [
                {
                    "power": "arming",
                    "value": "all",
                    "figure": "612 of 612 armings have their disarm",
                },
                {"power": "activations", "value": "no", "figure": "no activation while unarmed"},
                {
                    "power": "restores",
                    "value": "live",
                    "figure": "97 of 100 restores come by themselves",
                },
                {"power": "bypass-ends", "value": "none", "figure": "no bypass in this log"},
                {"power": "grain", "value": "1", "figure": "the clock steps by one second"},
            ]
        ).with_columns(site=pl.lit(site), witness=pl.lit("panel"))
        return View(
            site=site,
            name=row["name"],
            time_zone=ZONE,
            sentence=(
                "This log covers 364 days (4,512 armed hours); it records alarms and arming, "
                "not movement by day; older events were overwritten."
            ),
            powers=powers,
            overview=row,
            findings=self.findings(site=site),
            points=self._points(site),
        )

    def _row(self, site):
        some = self.sites().filter(pl.col("site") == site)
        if not some.height:
            raise NotFound(f"there is no site {site}")
        return some.to_dicts()[0]

    def _points(self, site):
        marks = self.raster(site).marks
        seen = dict(marks.group_by("zone").len().iter_rows())
        return pl.DataFrame(
            [
                {
                    "zone": zone,
                    "within": None,
                    "name": name,
                    "use": use,
                    "detector": detector,
                    "area": "1",
                    "entry_route": entry,
                    "life_safety": use in {"fire", "hold-up"},
                    "alarms": seen.get(zone, 0),
                    "hours": 8760.0 if use in {"fire", "hold-up"} else 4512.0,
                    "nights": seen.get(zone, 0),
                    "rate_30d": seen.get(zone, 0) / 4512 * 720,
                    "last": datetime.fromisoformat("2026-09-28T07:12") if seen.get(zone) else None,
                }
                for zone, name, use, detector, entry in POINTS
            ],
            schema_overrides={"last": pl.Datetime("us"), "within": pl.String},
        )

    def point(self, site, zone, within=None):
        row = next((p for p in self._points(site).to_dicts() if p["zone"] == zone), None)
        if row is None:
            raise NotFound(f"there is no point {zone} at site {site}")
        return point_view(
            site, self._row(site)["name"], {**row, "within": within}, self.findings(site=site)
        )

    def people(self, site, at=None):
        return fake_people.people_view(
            site, self._row(site)["name"], at, recorded=site not in SILENT
        )

    def usual_hours(self, site):
        return fake_people.usual_hours(site, recorded=site not in SILENT)

    # Takes what the real one takes.
    def raster(self, site, since=None, until=None, *, zone=None, within=None):  # noqa: ARG002 - as Lab
        told = self._raster(site, since, until)
        if zone is None:
            return told
        mine = told.marks.filter(pl.col("zone") == zone)
        return Raster(**{**vars(told), "marks": mine})

    def _raster(self, site, since=None, until=None):
        self._maybe_fail()
        listed = {one[0]: one for one in self.listed}
        if site not in listed:
            raise NotFound(f"there is no site {site}")
        _, _, _, latitude, _, yearly, cause = listed[site]
        nights = [self.first + timedelta(days=d) for d in range((LAST - self.first).days + 1)]
        rng = np.random.default_rng(int(site))
        sun = [sun_hours(night, latitude) for night in nights]
        armed = []
        for night in nights:
            weekend = night.weekday() >= 5
            armed.append((night, 12.0 if weekend else 18 + rng.uniform(0, 0.7), 24.0, "full"))
            armed.append((night, 24.0, 36.0 if weekend else 31.2 + rng.uniform(0, 0.5), "full"))
            if night.weekday() == 2:
                armed.append((night, 32.5, 34.0, "part"))
        marks = self._marks(site, nights, yearly, cause, sun, rng)
        aside = [(n, 33.0, 35.0, "visit") for n in nights[40:42]]
        if site in ON_TEST:
            aside += [(n, 12.0, 36.0, "on-test") for n in nights[-18:]]
        gaps = [(n, 12.0, 36.0) for n in nights[120:127]] if site == "2104" else []
        span = {"night": pl.Date, "start_h": pl.Float64, "end_h": pl.Float64}
        frames = Raster(
            armed=pl.DataFrame(armed, schema={**span, "mode": pl.String}, orient="row"),
            sun=pl.DataFrame(
                [(n, a, b) for n, (a, b) in zip(nights, sun, strict=True)],
                schema={"night": pl.Date, "sunset_h": pl.Float64, "sunrise_h": pl.Float64},
                orient="row",
            ),
            marks=marks,
            aside=pl.DataFrame(aside, schema={**span, "reason": pl.String}, orient="row"),
            gaps=pl.DataFrame(gaps, schema=span, orient="row"),
        )
        if since is None and until is None:
            return frames
        low = since.date() if since else self.first
        high = until.date() if until else LAST
        keep = pl.col("night").is_between(low, high)
        return Raster(**{k: v.filter(keep) for k, v in vars(frames).items()})

    def _marks(self, site, nights, yearly, cause, sun, rng):
        rows = []
        for _ in range(yearly + self.extra_marks):
            which = int(rng.integers(len(nights)))
            odd = rng.random() < 0.15
            why = str(rng.choice(list(Cause))) if odd else cause
            zone, name, hour = self._where(why, sun[which], rng)
            rows.append((nights[which], hour, zone, name, str(Kind.INTRUSION_ALARM), why))
        if yearly > 50:
            rows.append((nights[-60], 27.4, "9", "Kitchen heat detector", str(Kind.FIRE), None))
        if site == "2106" and len(nights) > 250:
            night = next(n for n in nights if n >= date(2026, 3, 14))
            for hour, zone, name in ((26.31, "3", "Water gate"), (26.33, "2", "Hall")):
                rows.append((night, hour, zone, name, str(Kind.INTRUSION_ALARM), "intrusion"))
        frame = pl.DataFrame(
            rows,
            schema=["night", "hour", "zone", "zone_name", "kind", "cause"],
            orient="row",
            schema_overrides={
                "night": pl.Date,
                "hour": pl.Float64,
                "zone": pl.String,
                "zone_name": pl.String,
                "kind": pl.String,
                "cause": pl.String,
            },
        )
        second = (pl.col("hour") * 3600).cast(pl.Int64)
        return (
            frame.with_columns(
                local=pl.col("night").cast(pl.Datetime("us")) + pl.duration(seconds=second)
            )
            .sort("local")
            .with_row_index("id", offset=1)
            .with_columns(
                id=pl.col("id").cast(pl.Int64),
                probability=pl.when(pl.col("cause").is_not_null()).then(0.8),
                life_safety=pl.col("kind") == Kind.FIRE,
                text=pl.lit("Burglary alarm <b>zone</b>"),
                within=pl.lit(None, pl.String),
            )
        )

    @staticmethod
    def _where(why, sun, rng):
        if why == "environment":
            return "7", "Glasshouse, west", float(np.clip(sun[0] - rng.gamma(2, 0.35), 12, 35.9))
        if why in {"person-entering", "service"}:
            return "1", "Staff door", float(31.3 + rng.normal(0, 0.2))
        if why == "person-leaving":
            return "1", "Staff door", float(18.6 + rng.normal(0, 0.3))
        if why == "detector":
            return "12", "Strong room contact", float(rng.uniform(20, 31))
        return "4", "Reading room", float(rng.uniform(19, 31))

    def proof(self, site, **asked):
        self._maybe_fail()
        self._row(site)
        return fake_proof.proof(site, **asked)

    def alive(self, site):
        self._maybe_fail()
        return fake_alive.alive(site, self._row(site)["name"])

    def around(self, site, occurrence):
        marks = self.raster(site).marks.filter(pl.col("id") == occurrence)
        if not marks.height:
            raise NotFound(f"there is no event {occurrence} at site {site}")
        at = marks["local"][0]
        steps = (
            (-5400, Kind.ARM, Phase.MOMENT, None, "4", "Set full"),
            (0, Kind.INTRUSION_ALARM, Phase.BEGIN, marks["zone"][0], None, "Burglary alarm"),
            (8, Kind.CONFIRMED_ALARM, Phase.MOMENT, None, None, "Confirmed <script>x</script>"),
            (64, Kind.INTRUSION_ALARM, Phase.END, marks["zone"][0], None, "Restore"),
            (180, Kind.DISARM, Phase.MOMENT, None, "4", "Unset"),
        )
        return self._events(site, [(at + timedelta(seconds=s), *rest) for s, *rest in steps])

    def events(self, *, site=None, since=None, until=None):  # noqa: ARG002 - the real face
        marks = self.raster(site).marks
        rows = []
        for local, zone, kind in marks.select("local", "zone", "kind").iter_rows():
            rows.append((local, Kind(kind), Phase.BEGIN, zone, None, "Burglary alarm"))
            rows.append(
                (local + timedelta(seconds=50), Kind.DISARM, Phase.MOMENT, None, "4", "Unset")
            )
        if site == "2105":
            for zone, day in (("2", 8), ("4", 14), ("5", 20)):
                start = datetime.fromisoformat(f"2026-08-{day:02d}T03:12")
                rows.append((start, Kind.SUPERVISION_LOSS, Phase.BEGIN, zone, None, "Lost"))
        if site == "2111":
            rows.append(
                (
                    datetime.fromisoformat("2026-09-11T09:00"),
                    Kind.ON_TEST,
                    Phase.BEGIN,
                    None,
                    None,
                    "On test",
                )
            )
        return self._events(site, rows)

    @staticmethod
    def _events(site, rows):
        frame = pl.DataFrame(
            [
                {
                    "site": site,
                    "wall": local,
                    "timing": "doubtful" if number % 29 == 3 else "sure",
                    "grain": 1,
                    "kind": str(kind),
                    "phase": str(phase),
                    "zone": zone,
                    "person": person,
                    "witness": "panel",
                    "text": text,
                    "row": number + 1,
                }
                for number, (local, kind, phase, zone, person, text) in enumerate(rows)
            ],
            schema_overrides={"wall": pl.Datetime("us"), "zone": pl.String, "person": pl.String},
        )
        placed = (
            pl.col("wall")
            .dt.replace_time_zone(ZONE, ambiguous="earliest", non_existent="null")
            .dt.convert_time_zone("UTC")
            .forward_fill()
        )
        return conform(frame.with_columns(placed=placed, at=placed), EVENT).sort("placed")

    def findings(self, *, site=None, since=None, until=None):  # noqa: ARG002 - the real face
        rows = [one for one in found() if site in (None, one["site"])]
        return (
            conform(pl.DataFrame(rows, infer_schema_length=None), FINDING)
            if rows
            else (pl.DataFrame(schema=FINDING))
        )

    def take(self, paths, *, site=None, time_zone=None, answers=None, progress=None):
        results = []
        for number, path in enumerate(map(Path, paths)):
            if progress is not None:
                progress(path.name, number, len(paths))
            if not path.exists():
                raise InputError("there is no such file or folder", where=str(path))
            said = {"site": site, "time-zone": time_zone, **(answers or {})}
            given = {key: value for key, value in said.items() if value}
            results.append(self._take(path.name, str(path), path.read_bytes(), given))
        if progress is not None:
            progress("", len(paths), len(paths))
        return results

    def _take(self, name, path, data, answers):
        sha = sha256(data).hexdigest()
        lines = len(data.decode("utf-8", errors="replace").splitlines())
        if "broken" in name:
            return Result(path=path, role=None, error=f"{name}: no table in it")
        open_ = tuple(one for one in QUESTIONS if one.key not in answers)
        open_ = open_ or tuple(one for one in LATER if one.key not in answers)
        if answers.get("time-zone") == "Nowhere":
            open_ = LATER
        if "ask" in name and open_:
            self._waiting[sha] = (name, data)
            return Result(path=path, sha256=sha, lines=lines, questions=open_)
        self._waiting.pop(sha, None)
        self.taken.append((name, dict(answers)))
        rows = max(0, lines - 1)
        return Result(
            path=path,
            site="2101",
            sha256=sha,
            lines=lines,
            rows=rows,
            other=lines - rows,
            read=rows,
            events=rows,
            evidence=("comma separates the cells", "day first: 14 dates have a first part over 12"),
        )

    def waiting(self):
        return [
            Result(path=name, sha256=sha, lines=3, questions=QUESTIONS)
            for sha, (name, _) in self._waiting.items()
        ]

    def answer(self, sha256, answers):
        name, data = self._waiting[sha256]
        return self._take(name, name, data, dict(answers))

    def logs(self):
        return exports()

    def unread(self, *, site=None):
        return unread_rows() if site is None else unread_rows().filter(pl.col("site") == site)

    def strangers(self, *, guess=True):
        left = strangers().filter(~pl.col("form").is_in(list(self.lessons)))
        return left if guess else left.with_columns(kind=None, phase=None, probability=None)

    def taught(self):
        rows = [
            {
                "form": form,
                "site": one.site,
                "wording": one.wording,
                "kind": one.kind,
                "phase": one.phase,
                "number": one.number or "point",
                "at": NOW,
            }
            for form, one in self.lessons.items()
        ]
        return conform(pl.DataFrame(rows, schema_overrides=TAUGHT), TAUGHT)

    def teach(self, *lessons):
        for one in lessons:
            form = strangers().row(by_predicate=pl.col("wording") == one.wording, named=True)[
                "form"
            ]
            self.lessons[form] = one
            self.changed += 1
        return Learned(forms=(form,), read=12, unread=0, exports=1, sites=1)

    def forget(self, wording, *, site=None):
        said = self.lessons.items()
        form = next(f for f, one in said if (one.wording, one.site) == (wording, site))
        del self.lessons[form]
        self.changed += 1
        return Learned(forms=(form,), read=0, unread=12, exports=1, sites=1)

    def _maybe_fail(self):
        if self.fail is not None:
            raise self.fail
