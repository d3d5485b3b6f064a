"""Plan, run and learn from hollow resin castings turned by hand in closed molds."""

from pathlib import Path

from evenwall.kernels import forget_stale

__version__ = "0.1.0"

forget_stale(Path(__file__).parent)  # before any kernel is loaded
