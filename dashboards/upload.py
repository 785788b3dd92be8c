"""Files on their way in: streamed to a folder of this server's own, then taken by the lab.

A batch is opened, files are sent to it one by one as raw bodies, and then all are taken
together, so that lists come before the logs that need them.
"""

import secrets
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from dashboards import arrivals
from dashboards.jobs import Jobs, Progress
from eventlab.errors import EventlabError

if TYPE_CHECKING:
    from dash import Dash
    from flask import Response

    from dashboards.remember import Remembered
    from eventlab.lab import FileResult

LIMIT = 1 << 30
"""Bytes of one file that are accepted; larger ones go through the command line."""

CHUNK = 1 << 20
MOST_BATCHES = 64
LONGEST_NAME = 150
ROUTE = "/logs/uploads"


class Desk:
    """Where files lie until they are taken, and answers until there are enough of them.

    Parameters
    ----------
    lab : Remembered
        Takes them.
    jobs : Jobs
        Runs the taking.
    limit : int
        Bytes of one file.
    """

    def __init__(self, lab: "Remembered", jobs: Jobs, *, limit: int = LIMIT) -> None:
        self.lab = lab
        self.jobs = jobs
        self.limit = limit
        self._root = Path(tempfile.mkdtemp(prefix="eventlab-desk-"))
        self._lock = Lock()
        self._batches: dict[str, list[Path]] = {}
        self._answers: dict[str, dict[str, str]] = {}
        self._asked: dict[str, FileResult] = {}

    def open_batch(self) -> str:
        """Open a batch; the oldest one that was never taken is given up where there are many."""
        key = secrets.token_urlsafe(12)
        with self._lock:
            while len(self._batches) >= MOST_BATCHES:
                oldest = next(iter(self._batches))
                del self._batches[oldest]
                shutil.rmtree(self._root / oldest, ignore_errors=True)
            self._batches[key] = []
        return key

    def place(self, batch: str, name: str) -> Path | None:
        """Make room for one more file of a batch; None where there is no such batch."""
        with self._lock:
            files = self._batches.get(batch)
            if files is None:
                return None
            # A folder for each: two files of one name stay two, and each keeps its name.
            (self._root / batch).mkdir(exist_ok=True)
            folder = Path(tempfile.mkdtemp(dir=self._root / batch))
            path = folder / safe_name(name)
            files.append(path)
        return path

    def withdraw(self, batch: str, path: Path) -> None:
        """Forget a file that did not arrive whole."""
        with self._lock:
            files = self._batches.get(batch, [])
            if path in files:
                files.remove(path)
        shutil.rmtree(path.parent, ignore_errors=True)

    def take(self, batch: str, answers: Mapping[str, str]) -> str | None:
        """Begin to take a batch.

        Parameters
        ----------
        batch : str
            As ``open_batch`` named it.
        answers : mapping of str to str
            What a person said of all its logs: ``site``, ``time-zone``.

        Returns
        -------
        str or None
            The job; None where there is no such batch or nothing in it.
        """
        with self._lock:
            paths = self._batches.pop(batch, [])
        return self._start(paths, answers) if paths else None

    def waiting(self) -> "dict[str, FileResult]":
        """Return the files that wait, by hash, each with the questions that are left."""
        waiting = arrivals.waiting(self.lab)
        with self._lock:
            # The lab asks a file's first questions; an answer may have led to others.
            return {sha256: self._asked.get(sha256, one) for sha256, one in waiting.items()}

    def answer(self, sha256: str, key: str, value: str) -> str | None:
        """Keep one answer; begin to take the file once all its questions have theirs.

        Parameters
        ----------
        sha256 : str
            The file, by the hash of its bytes.
        key, value : str
            The question and the answer; an empty key where nothing is left to ask.

        Returns
        -------
        str or None
            The job, once it has begun.
        """
        result = self.waiting().get(sha256)
        if result is None:
            return None
        with self._lock:
            said = self._answers.setdefault(sha256, {})
            if key:
                said[key] = value
            if any(question.key not in said for question in result.questions):
                return None
            answers = dict(said)
        name = Path(result.path).name

        def work(progress: Progress) -> "list[FileResult]":
            progress(name, 0, 1)
            try:
                taken = self.lab.answer(sha256, answers)
            except EventlabError:
                self._answered(sha256, None)
                raise
            self._answered(sha256, taken)
            return [taken]

        return self.jobs.start(work)

    def _answered(self, sha256: str, taken: "FileResult | None") -> None:
        with self._lock:
            if taken is None or not taken.questions:
                self._asked.pop(sha256, None)
                self._answers.pop(sha256, None)
                return
            self._asked[sha256] = taken
            for question in taken.questions:
                # Asked again: the answer did not fit.
                self._answers.get(sha256, {}).pop(question.key, None)

    def answers(self, sha256: str) -> dict[str, str]:
        """Return what has been answered so far for a file."""
        with self._lock:
            return dict(self._answers.get(sha256, {}))

    def close(self) -> None:
        """Remove the folder."""
        shutil.rmtree(self._root, ignore_errors=True)

    def _start(self, paths: list[Path], answers: Mapping[str, str]) -> str:
        def work(progress: Progress) -> "list[FileResult]":
            try:
                return self.lab.take(
                    paths,
                    site=answers.get("site"),
                    time_zone=answers.get("time-zone"),
                    progress=progress,
                )
            finally:
                # The lab keeps the originals itself, those that wait for an answer too.
                for path in paths:
                    shutil.rmtree(path.parent, ignore_errors=True)

        return self.jobs.start(work)


def safe_name(name: str) -> str:
    """Keep a file's own name, and nothing that could lead to another folder.

    Parameters
    ----------
    name : str
        As a browser sent it.

    Returns
    -------
    str
        Without folders, control characters and leading dots; never empty.
    """
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    kept = "".join(c for c in last if c.isprintable()).strip().lstrip(".")
    stem, dot, ending = kept.rpartition(".")
    if len(kept.encode()) > LONGEST_NAME:
        kept = f"{_cut(stem, LONGEST_NAME - 12)}{dot}{_cut(ending, 10)}" if stem else kept[:100]
        kept = _cut(kept, LONGEST_NAME)
    return kept or "unnamed"


def _cut(text: str, most: int) -> str:
    return text.encode()[:most].decode(errors="ignore")


def add_routes(app: "Dash", desk: Desk) -> None:
    """Add the routes that files come in by; the guards of ``security`` stand before them.

    Parameters
    ----------
    app : dash.Dash
        The app.
    desk : Desk
        Where the files go.
    """
    from flask import jsonify, request

    def refuse(status: int, text: str) -> "Response":
        response = jsonify({"error": text})
        response.status_code = status
        return response

    def opened() -> Any:
        return jsonify({"batch": desk.open_batch()})

    def sent(batch: str) -> Any:
        if request.mimetype != "application/octet-stream":
            return refuse(415, "Files are sent as they are.")
        too_large = f"Larger than {desk.limit >> 20} MiB: use the command line for it."
        if (request.content_length or 0) > desk.limit:
            return refuse(413, too_large)
        path = desk.place(batch, request.args.get("name", ""))
        if path is None:
            return refuse(404, "This upload is not known any more; begin again.")
        size = _stream(request.stream, path, desk.limit)
        if size is None:
            desk.withdraw(batch, path)
            return refuse(413, too_large)
        return jsonify({"size": size})

    def taken(batch: str) -> Any:
        said = {"site": request.args.get("site"), "time-zone": request.args.get("time_zone")}
        job = desk.take(batch, {k: v.strip() for k, v in said.items() if v and v.strip()})
        if job is None:
            return refuse(404, "There is nothing to take in this upload; begin again.")
        return jsonify({"job": job})

    add = app.server.add_url_rule
    add(ROUTE, "upload-open", opened, methods=["POST"])
    add(f"{ROUTE}/<batch>/files", "upload-file", sent, methods=["POST"])
    add(f"{ROUTE}/<batch>/take", "upload-take", taken, methods=["POST"])


def _stream(source: Any, path: Path, limit: int) -> int | None:
    size = 0
    with path.open("wb") as file:
        while chunk := source.read(CHUNK):
            size += len(chunk)
            if size > limit:
                return None
            file.write(chunk)
    return size
