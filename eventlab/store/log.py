"""The list of commits of a table: which of its files is missing or damaged."""

from collections.abc import Iterator

import orjson
import polars as pl

from eventlab.store.folders import File, Folder, folder

_HINT = "_last_checkpoint"


def log_of(table: Folder) -> Folder:
    """Return the folder with the list of commits of a table."""
    return folder(f"{table.uri}/_delta_log")


def number(file: File) -> int:
    """Return the version that a file of the list is about; -1 where it is about none."""
    start = file.name.partition(".")[0]
    return int(start) if start.isdigit() else -1


def faults(table: Folder) -> Iterator[tuple[str, str]]:
    """Find what is wrong with the list of commits.

    Parameters
    ----------
    table : Folder
        The table's folder.

    Yields
    ------
    tuple of str
        What is wrong, and the file's place.
    """
    log = log_of(table)
    files = log.files()
    commits = {number(f): f.name for f in files if f.name.endswith(".json") and number(f) >= 0}
    points = {number(f): f.name for f in files if f.name.endswith(".parquet") and number(f) >= 0}
    if not commits and not points:
        yield "the list of what was taken is missing", log.uri
        return
    hinted = _hinted(log)
    if hinted is not None and hinted not in points:
        name = f"{hinted:020}.checkpoint.parquet"
        yield "a checkpoint of the list of what was taken is missing", f"{log.uri}/{name}"
    last = max(points, default=-1)
    if last >= 0 and not _readable(log, points[last]):
        yield (
            "a checkpoint of the list of what was taken is damaged",
            f"{log.uri}/{points[last]}",
        )
    for version in range(last + 1, max(commits, default=last) + 1):
        if version not in commits:
            what = "a file of the list of what was taken is missing"
            yield what, f"{log.uri}/{version:020}.json"
        elif not _whole(log, commits[version]):
            what = "a file of the list of what was taken is damaged"
            yield what, f"{log.uri}/{commits[version]}"


def _hinted(log: Folder) -> int | None:
    """Return the version of the checkpoint that the table says is its last."""
    try:
        with log.read(_HINT) as file:
            said = orjson.loads(file.read())
    except (OSError, orjson.JSONDecodeError):
        return None
    version = said.get("version") if isinstance(said, dict) else None
    return version if isinstance(version, int) else None


def _readable(log: Folder, name: str) -> bool:
    try:
        with log.read(name) as file:
            pl.read_parquet(file)
    except (pl.exceptions.PolarsError, pl.exceptions.PanicException, OSError):
        return False
    return True


def _whole(log: Folder, name: str) -> bool:
    try:
        with log.read(name) as file:
            lines = file.read().splitlines()
        return bool(lines) and all(isinstance(orjson.loads(line), dict) for line in lines if line)
    except (orjson.JSONDecodeError, OSError):
        return False
