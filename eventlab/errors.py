"""The errors a user may meet.

EventlabError
├── UsageError          wrong words on the command line or in a call
├── InputError          a file that cannot be taken as it stands
│   ├── UnreadableFile      bytes that are no text, or no table in them
│   └── WrongContext        a site list, schedule, weather or visits file that is not right
├── QuestionsWait       two readings survive; nothing was taken
├── StoreError          the store cannot do it
│   ├── NoStore             nothing there
│   ├── NewerStore          written by a newer program
│   ├── DamagedStore        a file is missing or not what it was
│   ├── OtherAnswers        the same bytes were taken before with other answers
│   └── StoreBusy           other writers never left a turn
└── NotFound            no such site, point or night
"""


class EventlabError(Exception):
    """Anything told to a user in one line; never a traceback.

    Parameters
    ----------
    found : str
        What was found.
    where : str, optional
        File, row, column, as far as known.
    do : str, optional
        What to do next.
    """

    def __init__(self, found: str, *, where: str = "", do: str = "") -> None:
        """Keep the three parts; the message joins them."""
        super().__init__(found)
        self.found = found
        self.where = where
        self.do = do

    def __str__(self) -> str:
        """Join the parts to one readable message."""
        start = f"{self.where}: {self.found}" if self.where else self.found
        return f"{start}. {self.do}" if self.do else start

    def __reduce__(self) -> tuple[object, ...]:
        """Survive the way between processes."""
        return _remake, (type(self), self.found, self.where, self.do)


def _remake(kind: type[EventlabError], found: str, where: str, do: str) -> EventlabError:
    return kind(found, where=where, do=do)


class UsageError(EventlabError):
    """Wrong words on the command line or in a call."""


class InputError(EventlabError):
    """A file that cannot be taken as it stands."""


class UnreadableFile(InputError):
    """Bytes that are no text, or text with no table in it."""


class WrongContext(InputError):
    """A site list, zone schedule, weather, visits or outcomes file that is not right."""


class QuestionsWait(EventlabError):
    """Two readings of a file survive all evidence; nothing of it was taken."""


class StoreError(EventlabError):
    """The store cannot do what was asked."""


class NoStore(StoreError):
    """There is no store at this place."""


class NewerStore(StoreError):
    """The store was written by a newer program."""


class DamagedStore(StoreError):
    """A file of the store is missing or is not what it was."""


class OtherAnswers(StoreError):
    """The same bytes were taken before with other answers."""


class StoreBusy(StoreError):
    """Other writers never left a turn."""


class NotFound(EventlabError):
    """There is no such site, point or night."""
