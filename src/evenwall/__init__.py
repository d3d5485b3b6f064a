"""Plan, run and learn from hollow resin castings turned by hand in closed molds."""

__version__ = "0.1.0"
