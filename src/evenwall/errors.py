"""The error tree: what can go wrong, each with one sentence that says what, where and how to mend it.

EvenwallError            any fault that the user can mend; the command line prints it and exits 2
├── InputError           a value that was typed or read is out of its range
│   ├── MeshError        a mesh file or a surface that can't be used as a piece
│   ├── ResinError       a resin that can't be: its data disagree, or it never gels
│   ├── MotionError      a turning that the machine or the model doesn't hold
│   └── JobError         a job folder or job.toml that can't be read, or is in use
├── PlanError            no plan fulfils what was asked for; says which lever helps
├── SolverError          a computation failed; says at what time, where, and what to try
└── StoppedError         the user stopped the work before there was anything to keep
"""

from __future__ import annotations

from collections.abc import Callable


class EvenwallError(Exception):
    """Any fault that the user can mend; its text is one sentence for the user."""


class InputError(EvenwallError):
    """A value that was typed or read is out of its range."""


class MeshError(InputError):
    """A mesh file or a surface that can't be used as a piece."""


class ResinError(InputError):
    """A resin that can't be: its data disagree, or it never gels."""


class MotionError(InputError):
    """A turning that the machine or the model doesn't hold."""


class JobError(InputError):
    """A job folder or job.toml that can't be read, or is in use."""


class PlanError(EvenwallError):
    """No plan fulfils what was asked for; says which lever helps."""


class SolverError(EvenwallError):
    """A computation failed; says at what time, where, and what to try."""


class StoppedError(EvenwallError):
    """The user stopped the work before there was anything to keep."""


def heed(stop: Callable[[], bool] | None) -> None:
    """Raise StoppedError where `stop` says so; asked between the slices of long work."""
    if stop is not None and stop():
        raise StoppedError("stopped before the first coat was done: nothing is kept, start it again")
