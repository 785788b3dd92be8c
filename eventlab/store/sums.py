"""Whether files of the table still hold what was written into them.

Neither the file format nor its compression notices a changed byte in every case. Files that are
written here carry a part of their hash in their name. Of those that the table library writes
(joined small files, rebuilt sites) the hashes are noted beside the table as soon as they are
there.
"""

import hashlib
import re

import orjson

from eventlab.store.folders import Folder, folder

_NAMED = re.compile(r"part-[0-9a-f]{32}-([0-9a-f]{16})\.zstd\.parquet")
_NOTED = "sums.json"


def stamped(unique: str, data: memoryview) -> str:
    """Return the name of a file with this content; ``unique`` tells it from all others."""
    return f"part-{unique}-{_sum(data)}.zstd.parquet"


def note(root: str, table: Folder, names: list[str]) -> None:
    """Note the hashes of files of the table that carry none and are not noted yet.

    Parameters
    ----------
    root : str
        The store's place.
    table : Folder
        The table's folder.
    names : list of str
        Its files now; what is noted of others is forgotten.
    """
    before = _noted(root)
    wanted = [name for name in names if _stamp(name) is None]
    after = {name: before.get(name) or _sum_of(table, name) for name in wanted}
    if after != before:
        with folder(root).written(_NOTED) as out:
            out.write(orjson.dumps(after))


def changed(root: str, table: Folder, names: list[str]) -> list[str]:
    """List the files whose content is not what was written; those without a hash are not."""
    noted = _noted(root)
    expected = {name: _stamp(name) or noted.get(name) for name in names}
    return [
        name
        for name, expects in expected.items()
        if expects is not None and _sum_of(table, name) != expects
    ]


def _stamp(name: str) -> str | None:
    found = _NAMED.fullmatch(name.rpartition("/")[2])
    return found[1] if found else None


def _noted(root: str) -> dict[str, str]:
    try:
        with folder(root).read(_NOTED) as file:
            said = orjson.loads(file.read())
    except (FileNotFoundError, orjson.JSONDecodeError):
        return {}
    return said if isinstance(said, dict) else {}


def _sum_of(table: Folder, name: str) -> str:
    with table.read(name) as file:
        return _sum(memoryview(file.read()))


def _sum(data: memoryview) -> str:
    return hashlib.sha256(data).hexdigest()[:16]
