"""Write events the short way in tests: one line of text for each."""

from datetime import UTC, datetime

import polars as pl

from eventlab.schema import EVENT, MOMENTS, Kind, Phase, Timing, Witness, conform


def log(text: str, *, site: str = "S1", grain: int = 1) -> pl.DataFrame:
    """Turn lines ``DATE TIME KIND [begin|end] key=value …`` (UTC) into a frame of events.

    Kinds that begin and end begin where the line does not say; ``site=`` changes the site.
    """
    rows = []
    for number, line in enumerate((x for x in text.strip().splitlines() if x.strip()), start=1):
        day, clock, kind, *rest = line.split()
        at = datetime.fromisoformat(f"{day} {clock}").replace(tzinfo=UTC)
        phase = Phase.MOMENT if Kind(kind) in MOMENTS else Phase.BEGIN
        said = {}
        for word in rest:
            if "=" in word:
                key, value = word.split("=", 1)
                said[key] = value
            else:
                phase = Phase(word)
        rows.append(
            {
                "site": site,
                "at": at,
                "placed": at,
                "wall": at.replace(tzinfo=None),
                "timing": str(Timing.SURE),
                "grain": grain,
                "kind": kind,
                "phase": str(phase),
                "witness": str(Witness.PANEL),
                "source": "0" * 64,
                "row": number,
                "piece": 1,
                "nth": 1,
                "reading": "test",
                "text": line,
                **said,
            }
        )
    frame = pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame()
    return conform(frame, EVENT)
