"""The clock as an argument: every instant of the bench is seconds since 1970 (UTC) of one clock, the server's.

A device stamps its presses with its own clock; the page measures how far that clock is from the server's
(RFC 5905, section 8: four stamps, offset and delay) and sends the stamp together with that offset.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

Clock = Callable[[], float]
"""A function that says the present instant [s since 1970, UTC]."""


def day_stamp(at: float) -> str:
    """The instant `at` [s since 1970] as a name that sorts and that any file system takes, in UTC.

    Example: day_stamp(0.0) == "1970-01-01-000000".
    """
    return datetime.fromtimestamp(at, UTC).strftime("%Y-%m-%d-%H%M%S")
