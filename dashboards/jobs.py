"""Work that takes a while: one bounded pool of threads, and a register that pages can ask."""

import logging
import secrets
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from enum import StrEnum
from threading import Lock
from typing import Any

from eventlab.errors import EventlabError

_LOG = logging.getLogger(__name__)


class State(StrEnum):
    """How far a piece of work is."""

    QUEUED = "queued"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"
    LOST = "lost"


OVER = frozenset({State.DONE, State.FAILED, State.STOPPED, State.LOST})


class Stopped(Exception):
    """Raised inside the work when somebody asked to stop it."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A piece of work as it stands at one moment.

    Parameters
    ----------
    key : str
        Its name, hard to guess.
    state : State
        How far it is; ``lost`` where nothing is known of it.
    what : str
        What it is busy with.
    done, total : int
        Steps.
    passed : tuple of str
        What it has been through, in order.
    stopping : bool
        Whether somebody asked to stop it.
    result : object
        What came out, once it is done.
    error : str
        What went wrong, in one line for people.
    """

    key: str
    state: State
    what: str = ""
    done: int = 0
    total: int = 0
    passed: tuple[str, ...] = ()
    stopping: bool = False
    result: Any = None
    error: str = ""


Progress = Callable[[str, int, int], None]
"""Told by the work: what it is busy with, steps done, steps in all."""


class Jobs:
    """The register of one server.

    Parameters
    ----------
    workers : int
        Threads; more work than that waits its turn.
    keep : int
        Finished pieces of work that are remembered.
    """

    def __init__(self, *, workers: int = 2, keep: int = 32) -> None:
        self._pool = ThreadPoolExecutor(max_workers=workers, thread_name_prefix="job")
        self._keep = keep
        self._lock = Lock()
        self._known: dict[str, Snapshot] = {}

    def start(self, work: Callable[[Progress], Any]) -> str:
        """Begin a piece of work.

        Parameters
        ----------
        work : callable
            Given a function to tell its progress to; what it returns is the result.

        Returns
        -------
        str
            The name to ask for.
        """
        key = secrets.token_urlsafe(12)
        with self._lock:
            self._forget()
            self._known[key] = Snapshot(key, State.QUEUED)
        self._pool.submit(self._run, key, work)
        return key

    def ask(self, key: str) -> Snapshot:
        """Return how a piece of work stands; ``lost`` where it is not known (any more)."""
        with self._lock:
            return self._known.get(key) or Snapshot(key, State.LOST)

    def stop(self, key: str) -> Snapshot:
        """Ask a piece of work to stop at its next step; what is done stays done.

        Parameters
        ----------
        key : str
            The work.

        Returns
        -------
        Snapshot
            As it stands now: ``stopping`` unless it was over already.
        """
        with self._lock:
            now = self._known.get(key) or Snapshot(key, State.LOST)
            if now.state not in OVER:
                now = self._known[key] = replace(now, stopping=True)
            return now

    def close(self) -> None:
        """End the threads; work that has begun is finished first."""
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _run(self, key: str, work: Callable[[Progress], Any]) -> None:
        def progress(what: str, done: int, total: int) -> None:
            # Asked and told under one lock: whoever was told that it stops sees it stop here.
            with self._lock:
                before = self._known[key]
                passed = before.passed + ((before.what,) if before.what else ())
                news = {"what": what, "done": done, "total": total, "passed": passed}
                self._known[key] = replace(before, **news)
                if before.stopping and done < total:
                    raise Stopped

        self._tell(key, state=State.RUNNING)
        try:
            result = work(progress)
        except Stopped:
            self._tell(key, state=State.STOPPED)
        except EventlabError as error:
            self._tell(key, state=State.FAILED, error=str(error))
        except Exception:  # noqa: BLE001 - whatever it was, the page must be told, not only the log
            _LOG.exception("work %s failed", key)
            self._tell(key, state=State.FAILED, error="Something went wrong that was not foreseen.")
        else:
            self._tell(key, state=State.DONE, result=result)

    def _tell(self, key: str, **news: Any) -> None:
        with self._lock:
            self._known[key] = replace(self._known[key], **news)

    def _forget(self) -> None:
        over = [key for key, one in self._known.items() if one.state in OVER]
        for key in over[: max(0, len(over) - self._keep + 1)]:
            del self._known[key]
