"""Forecasts in worker processes."""

from __future__ import annotations


class Runs:
    """The forecasts that are running."""

    async def close(self) -> None:
        """Stop them all."""
