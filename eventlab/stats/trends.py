"""Does a rate rise or fall over time? Two tests of trend, and the power law that goes with them."""

from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
StoppedBy = Literal["time", "event"]


class Trend(NamedTuple):
    """Both tests of each series: a statistic and a two-sided p-value each.

    ``laplace`` is above 0 where the rate rises; ``hdbk`` (with ``freedom``) is below its degrees
    of freedom where it rises.
    """

    group: Ints
    events: Ints
    laplace: Floats
    laplace_p: Floats
    hdbk: Floats
    freedom: Ints
    hdbk_p: Floats


class PowerLaw(NamedTuple):
    """The rate ``scale * shape * t ** (shape - 1)`` of each series, with limits.

    ``shape`` above 1: the rate rises. ``rate`` is that at the end of the time watched.
    """

    group: Ints
    shape: Floats
    shape_low: Floats
    shape_high: Floats
    scale: Floats
    rate: Floats
    rate_low: Floats
    rate_high: Floats


def trend(
    times: npt.ArrayLike,
    end: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    *,
    stopped_by: StoppedBy = "time",
) -> Trend:
    """Test each series of events for a trend of its rate, in two ways.

    Parameters
    ----------
    times : array_like of float, shape (n,)
        Moments since the start of each series, above 0, in any order; in time at risk.
    end : array_like of float, shape () or (n,)
        How long the series of each moment was watched, in the same unit; with
        ``stopped_by='event'`` the last moment itself is used and this is not.
    group : array_like of int, shape (n,), optional
        Number of the series of each moment; one series where left out.
    stopped_by : {'time', 'event'}
        Whether watching ended at a time, or with the last event.

    Returns
    -------
    Trend
        By series in ascending order; not a number where nothing is left to test.

    Notes
    -----
    Laplace's test (normal) looks for a rate that grows as ``exp(b t)``, that of MIL-HDBK-189
    (1981) (chi-square) for a power law: NIST/SEMATECH e-Handbook 8.2.3.4. They may disagree.
    """
    from scipy.special import chdtr, chdtrc, ndtr

    names, place, moment, last = _series(times, end, group, stopped_by)
    counted = moment < last if stopped_by == "event" else np.ones(moment.shape, dtype=bool)
    used = np.bincount(place[counted], minlength=names.size)
    many = np.where(used > 0, used, np.nan)
    share = moment[counted] / last[counted]
    total = np.bincount(place[counted], share, minlength=names.size)
    laplace = (total - many / 2) / np.sqrt(many / 12)
    logs = np.bincount(place[counted], -np.log(share), minlength=names.size)
    hdbk = np.where(used > 0, 2 * logs, np.nan)
    both = 2 * np.minimum(chdtr(2 * used, hdbk), chdtrc(2 * used, hdbk))
    return Trend(
        names,
        np.bincount(place, minlength=names.size),
        laplace,
        2 * ndtr(-np.abs(laplace)),
        hdbk,
        2 * used,
        np.where(used > 0, np.minimum(both, 1.0), np.nan),
    )


def power_law(
    times: npt.ArrayLike,
    end: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    *,
    unbiased: bool = False,
    level: float = 0.95,
) -> PowerLaw:
    """Fit a power law to each series that was watched up to a time.

    Parameters
    ----------
    times, end, group : array_like
        As in `trend`, with ``stopped_by='time'``.
    unbiased : bool, default False
        Take one event off in the shape, so that it is right on average.
    level : float, default 0.95
        Of the limits.

    Returns
    -------
    PowerLaw
        By series in ascending order; limits are not a number where there are fewer than two
        events.

    Notes
    -----
    MIL-HDBK-189 (1981) App. C; limits of the shape from the chi-square of its test, exact given
    the number of events; those of the rate from NIST/SEMATECH e-Handbook 8.4.5.2 (tests stopped
    at a time), after Crow (1982).
    """
    from scipy.special import chdtri, ndtri

    names, place, moment, last = _series(times, end, group, "time")
    count = np.bincount(place, minlength=names.size).astype(np.float64)
    watched = np.zeros(names.size)
    watched[place] = last
    logs = np.bincount(place, np.log(last / moment), minlength=names.size)
    tail = (1 - level) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        shape = (count - 1 if unbiased else count) / logs
        scale = count / watched**shape
        rate = shape * count / watched
        low, high = (chdtri(2 * count, p) / (2 * logs) for p in (1 - tail, tail))
        z = -ndtri(tail)
        wide = z * np.sqrt(count / 2 + z**2 / 16)
        # Mean time between events over the estimate; its limits turn over to those of the rate.
        rate_high = rate * (count + z**2 / 4 + wide) ** 2 / (count * (count - 1))
        narrow = np.maximum(count - z * np.sqrt(count / 2), 0.0)
        rate_low = rate * narrow**2 / (count * (count - 1))
    few = count < 2
    bounds = [np.where(few, np.nan, x) for x in (low, high, rate_low, rate_high)]
    return PowerLaw(names, shape, bounds[0], bounds[1], scale, rate, bounds[2], bounds[3])


def _series(
    times: npt.ArrayLike, end: npt.ArrayLike, group: npt.ArrayLike | None, stopped_by: StoppedBy
) -> tuple[Ints, Ints, Floats, Floats]:
    """Give each series a number, and each moment the end of its own."""
    moment = np.asarray(times, dtype=np.float64)
    label = np.zeros(moment.shape, np.int64) if group is None else np.asarray(group, np.int64)
    names, place = np.unique(label, return_inverse=True)
    place = place.reshape(moment.shape)
    if stopped_by == "event":
        most = np.full(names.size, -np.inf)
        np.maximum.at(most, place, moment)
        return names, place, moment, most[place]
    return names, place, moment, np.broadcast_to(np.asarray(end, dtype=np.float64), moment.shape)
