"""What is told where an answer failed."""

import logging

from dash import set_props

from dashboards import ids
from dashboards.layouts import parts
from eventlab.errors import EventlabError

_LOG = logging.getLogger(__name__)


def tell(error: Exception) -> None:
    """Tell on the page that something failed, in one line, and keep the trace in the log.

    Parameters
    ----------
    error : Exception
        What was raised; only what is meant for people is shown of it.
    """
    if isinstance(error, EventlabError):
        said = str(error)
    else:
        _LOG.error("a page failed", exc_info=error)
        said = "Something went wrong that was not foreseen. The server's log has the details."
    set_props(ids.NOTICE, {"children": parts.failed(said)})
