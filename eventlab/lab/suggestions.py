"""What wordings that were not understood may mean; the model is trained once and kept."""

import hashlib
import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields
from pathlib import Path
from zipfile import BadZipFile

import polars as pl

from eventlab.meaning import READER, in_force
from eventlab.meaning.guessing import Model
from eventlab.meaning.suggesting import SUGGESTED, corpus, fitted, suggest

_FORM = "3"
"""Changes with the code of the model."""

_KEPT = 4
"""Trained models that are kept on this machine."""


def suggested(wordings: pl.Series, taught: pl.DataFrame) -> pl.DataFrame:
    """Say what wordings may mean.

    Parameters
    ----------
    wordings : polars.Series
        String.
    taught : polars.DataFrame
        Columns of ``schema.TAUGHT``: what people said is learnt from.

    Returns
    -------
    polars.DataFrame
        Columns of ``meaning.suggesting.SUGGESTED``.
    """
    if wordings.drop_nulls().is_empty():
        return pl.DataFrame(schema=SUGGESTED)
    held = in_force(taught).sort("form", "site", nulls_last=True)
    said = held.unique("form", keep="last", maintain_order=True)
    return suggest(_model(said), wordings)


def _model(said: pl.DataFrame) -> Model:
    import sklearn

    key = "\x1f".join([_FORM, READER, sklearn.__version__, *said["mark"]])
    name = f"wordings-{hashlib.sha256(key.encode()).hexdigest()[:16]}.npz"
    return _once(cache() / name, lambda: fitted(corpus(said)))


def cache() -> Path:
    """Return the folder where trained models are kept; the store itself holds none."""
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "eventlab"


def _once(path: Path, make: Callable[[], Model]) -> Model:
    """Load a model, or make it; a folder that cannot be written costs only the time."""
    try:
        return _load(path)
    except (OSError, ValueError, KeyError, BadZipFile):
        made = make()
    with suppress(OSError):
        _save(path, made)
    return made


def _load(path: Path) -> Model:
    import numpy as np

    # Arrays alone: nothing in the file is ever run.
    with np.load(path, allow_pickle=False) as held:
        return Model(**{one.name: held[one.name] for one in fields(Model)})


def _save(path: Path, model: Model) -> None:
    import numpy as np

    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.NamedTemporaryFile(dir=path.parent, suffix=".part", delete=False) as file:
        np.savez(file, **vars(model))
    Path(file.name).replace(path)
    older = sorted(path.parent.glob("wordings-*.npz"), key=lambda one: -one.stat().st_mtime)
    for one in older[_KEPT:]:
        one.unlink(missing_ok=True)
