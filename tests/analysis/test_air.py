"""Weather that contradicts the sun, by the light that a clear sky would bring at each place."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import polars as pl
import pytest

from eventlab.analysis.drivers.air import SUNLESS, air
from eventlab.context import Context
from eventlab.schema import SITE, WEATHER, conform
from eventlab.settings import Settings

START = datetime(2026, 6, 1, tzinfo=UTC)
HOURS = [START + timedelta(hours=n) for n in range(48)]
PLACES = {"East": (54.5, 30.0), "West": (54.5, -3.0)}


def known(**where):
    """Give two sites far apart, and the light of two June days as 30 degrees east would have it."""
    day = np.sin(np.pi * (np.arange(48) % 24 - 1) / 17).clip(0)
    light = {"at": HOURS, "ghi_w_m2": (700 * day).tolist(), **where}
    sites = [{"site": name, "latitude": lat, "longitude": lon}
             for name, (lat, lon) in PLACES.items()]  # fmt: skip
    return replace(
        Context.empty(),
        sites=conform(pl.DataFrame(sites), SITE),
        weather=conform(pl.DataFrame(light), WEATHER),
    )


def grey(context, sites):
    found = air(context, sites, Settings())
    us = np.array([int(at.timestamp() * 1e6) for at in HOURS])
    return {
        site: found.at(SUNLESS, np.full(len(us), n), us).tolist() for n, site in enumerate(sites)
    }


def test_light_of_no_place_is_held_to_the_sky_of_each_site():
    context = known()
    both = grey(context, ["East", "West"])
    assert both["East"] != both["West"]
    for site in PLACES:
        assert grey(context.only([site]), [site])[site] == both[site]
        assert grey(context, [site])[site] == both[site]


@pytest.mark.parametrize("first", PLACES)
def test_light_of_a_station_is_held_to_the_sky_above_it(first):
    # The station stands beside one of the sites; a site far off has nothing of it.
    where = dict(zip(("latitude", "longitude"), PLACES[first], strict=True))
    context = known(station="Hill", **where)
    one = grey(context, [first])[first]
    assert grey(context, list(PLACES))[first] == one
    assert one == grey(known(), [first])[first]
