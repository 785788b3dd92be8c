"""Where the parts of a store lie; the one door through which tables are opened."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from eventlab.errors import UsageError
from eventlab.store.originals import Originals
from eventlab.store.table import create_table, load

if TYPE_CHECKING:
    from deltalake import DeltaTable


@dataclass(frozen=True, slots=True)
class Place:
    """A store's folder; it holds no open handle and may go to another process.

    Parameters
    ----------
    root : Path
        The store's folder.
    storage_options : tuple of (str, str)
        Passed to the table library.
    """

    root: Path
    storage_options: tuple[tuple[str, str], ...] = ()

    @property
    def events(self) -> Path:
        """Folder of the event table."""
        return self.root / "events"

    @property
    def context(self) -> Path:
        """Folder of the small tables."""
        return self.root / "context"

    @property
    def originals(self) -> Originals:
        """The originals beside the table."""
        return Originals(self.root / "originals")

    @property
    def lock(self) -> Path:
        """File that writers of one machine queue up at."""
        return self.root / "writing.lock"

    @property
    def options(self) -> dict[str, str] | None:
        """Storage options as the table library takes them."""
        return dict(self.storage_options) or None

    def create(self, buckets: int) -> None:
        """Make an empty event table where there is none."""
        if buckets < 1:
            raise UsageError(f"a store needs one bucket or more, not {buckets}")
        self.root.mkdir(parents=True, exist_ok=True)
        create_table(str(self.events), buckets, self.options)

    def open(self) -> "DeltaTable":
        """Return the event table as it is now, in an object of its own."""
        return load(str(self.events), self.options)
