"""A check against the world outside as one row of a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, Protocol

Status = Literal["published", "common practice", "from memory"]


@dataclass(frozen=True, kw_only=True)
class Row:
    """One outside check: what the source says and what evenwall computes."""

    check: str  # what is compared, in a user's words
    expected: float  # the source's value
    got: float  # our value
    unit: str  # unit of both ("" for a pure number)
    tolerance: float  # allowed |got - expected|, in the same unit
    source: str  # document and equation, or "common practice, no source"
    status: Status
    at_least: bool = False  # what the source says is a lower bound

    @property
    def holds(self) -> bool:
        """True where our value agrees with the source's within the tolerance."""
        if self.at_least and self.got > self.expected:
            return True
        return abs(self.got - self.expected) <= self.tolerance


class Rows(Protocol):
    """What each module of this room offers: its rows, the long studies only when `full`."""

    def __call__(self, *, full: bool) -> Iterator[Row]:
        """Yield the rows one by one, each as it is computed."""
        ...


def within(
    check: str,
    expected: float,
    got: float,
    relative: float,
    *,
    unit: str = "",
    source: str,
    status: Status = "published",
) -> Row:
    """A row whose tolerance is the fraction `relative` of the expected value."""
    return Row(
        check=check,
        expected=float(expected),
        got=float(got),
        unit=unit,
        tolerance=abs(expected) * relative,
        source=source,
        status=status,
    )
