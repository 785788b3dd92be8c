"""What is really the matter: a line per story, and the cause behind every record."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import polars as pl

from eventlab.schema import UTC, Schema
from eventlab.simulate.clock import moment
from eventlab.simulate.living import Lived

NOTHING = "nothing"
"""The pattern of a building where nothing is wrong."""

STORIES: Schema = {
    "site": pl.String(),
    "pattern": pl.String(),
    "subject_kind": pl.String(),
    "subject": pl.String(),
    "since": UTC,
    "until": UTC,
    "standing": pl.Boolean(),
}
CAUSED: Schema = {
    "site": pl.String(),
    "at": UTC,
    "zone": pl.String(),
    "kind": pl.String(),
    "phase": pl.String(),
    "cause": pl.String(),
    "driver": pl.String(),
}
FILES: Schema = {"file": pl.String(), "lines": pl.Int64(), "rows": pl.Int64()}


@dataclass(frozen=True)
class Truth:
    """What was put into the logs.

    Parameters
    ----------
    stories : polars.DataFrame
        ``site, pattern, subject_kind, subject, since, until, standing``: what ought to be
        found; pattern ``nothing`` where nothing ought to be.
    events : polars.DataFrame
        ``site, at, zone, kind, phase, cause, driver``: every record of a panel that has a
        cause other than the day's routine of opening and closing.
    files : polars.DataFrame
        ``file, lines, rows`` of each log written.
    """

    stories: pl.DataFrame
    events: pl.DataFrame
    files: pl.DataFrame

    def write(self, path: Path) -> None:
        """Write it as JSON."""
        frames = {"stories": self.stories, "events": self.events, "files": self.files}
        told = {name: frame.to_dicts() for name, frame in frames.items()}
        text = json.dumps(told, default=_instant, indent=1, ensure_ascii=False)
        path.write_bytes(text.encode() + b"\n")


def _instant(value: object) -> str:
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%dT%H:%M:%SZ")
    return str(value)


def make_truth(lived: Iterable[Lived], files: Iterable[tuple[str, int, int]]) -> Truth:
    """Gather the truth of several buildings.

    Parameters
    ----------
    lived : iterable of Lived
        In the order of their sites.
    files : iterable of (str, int, int)
        Name, lines and rows of each log.

    Returns
    -------
    Truth
        All of it.
    """
    stories, events = [], []
    for one in lived:
        site, world = one.building.site, one.world
        for told in world.told:
            until = moment(told.until)
            stories.append(
                (site, told.pattern, told.subject_kind, told.subject, moment(told.since), until,
                 told.standing)
            )  # fmt: skip
        if not world.told:
            since, until = moment(world.start), moment(world.end)
            stories.append((site, NOTHING, "site", site, since, until, False))
        events += [
            (site, moment(r.at), r.zone, r.kind, r.phase, r.cause, r.driver)
            for r in one.panel
            if r.cause is not None and (r.driver or r.zone)
        ]
    return Truth(
        pl.DataFrame(stories, schema=STORIES, orient="row"),
        pl.DataFrame(events, schema=CAUSED, orient="row"),
        pl.DataFrame(list(files), schema=FILES, orient="row"),
    )
