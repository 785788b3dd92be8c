"""Where the parts of a store lie; the one door through which tables are opened."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from eventlab.errors import DamagedStore, NoStore, UsageError
from eventlab.store.folders import Folder, folder, is_remote
from eventlab.store.originals import Originals
from eventlab.store.table import BRING_BACK, create_table, load, whole

if TYPE_CHECKING:
    from deltalake import DeltaTable


@dataclass(frozen=True, slots=True)
class Place:
    """A store's folder; it holds no open handle and may go to another process.

    Parameters
    ----------
    root : str
        The store's folder, as ``folders.at`` gives it.
    """

    root: str

    @property
    def events(self) -> Folder:
        """Folder of the event table."""
        return folder(f"{self.root}/events")

    @property
    def context(self) -> Folder:
        """Folder of the small tables."""
        return folder(f"{self.root}/context")

    def small(self, name: str) -> Folder:
        """Folder of one small table."""
        return folder(f"{self.root}/context/{name}")

    @property
    def originals(self) -> Originals:
        """The originals beside the table."""
        return Originals(folder(f"{self.root}/originals"))

    @property
    def lock(self) -> Path | None:
        """File that writers of one machine queue up at; object storage has none."""
        return None if is_remote(self.root) else Path(self.root) / "writing.lock"

    def create(self, buckets: int) -> None:
        """Make an empty event table where there is none."""
        if buckets < 1:
            raise UsageError(f"a store needs one bucket or more, not {buckets}")
        if not is_remote(self.root):
            Path(self.root).mkdir(parents=True, exist_ok=True)
        create_table(self.events.uri, buckets)

    def open(self) -> "DeltaTable":
        """Return the event table as it is now, in an object of its own; its files are there.

        Raises
        ------
        NoStore
            Where there is none.
        DamagedStore
            Where a file of it is missing or damaged.
        """
        return whole(self.look())

    def look(self) -> "DeltaTable":
        """Return the event table without a look at its files; raises as ``open``."""
        try:
            return load(self.events.uri)
        except NoStore:
            if self._remains():
                raise DamagedStore(
                    "the table's list of what was taken is missing",
                    where=f"{self.events.uri}/_delta_log",
                    do=BRING_BACK,
                ) from None
            raise

    def _remains(self) -> bool:
        """Tell whether something here was once taken."""
        written = (".json", ".parquet")
        held = any(file.name.endswith(written) for file in self.events.files())
        return held or bool(self.originals.numbers())
