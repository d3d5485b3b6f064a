"""How a mass of mixed resin went: conversion, temperature and viscosity over time, and when what happened."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from evenwall.resin.viscosity import ViscosityLaw, viscosity

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class History:
    """A curing mass over time; k instants."""

    time: Floats  # (k,) since mixing [s]
    conversion: Floats  # (k,) [-]
    temperature: Floats  # (k,) [K]
    law: ViscosityLaw  # of the resin

    @property
    def viscosity(self) -> Floats:
        """Viscosity [Pa s] at each instant, shape (k,); infinite from gel on."""
        return viscosities(self.conversion, self.temperature, self.law)

    @property
    def peak(self) -> float:
        """Highest temperature [K]."""
        return float(self.temperature.max())


@njit(cache=True)
def viscosities(conversion: Floats, temperature: Floats, law: ViscosityLaw) -> Floats:
    """Viscosity [Pa s] for each `conversion` (k,) [-] and `temperature` (k,) [K]."""
    out = np.empty(len(conversion))
    for k in range(len(conversion)):
        out[k] = viscosity(conversion[k], temperature[k], law)
    return out


def time_of_conversion(history: History, wanted: float) -> float:
    """When the conversion reaches `wanted` [-]: [s], infinite where it does not within the history."""
    reached = history.conversion >= wanted
    if not reached.any():
        return math.inf
    k = int(np.argmax(reached))
    if k == 0:
        return float(history.time[0])
    low, high = history.conversion[k - 1], history.conversion[k]
    share = (wanted - low) / (high - low)
    return float(history.time[k - 1] + share * (history.time[k] - history.time[k - 1]))


def time_of_viscosity(history: History, wanted: float) -> float:
    """When the mix is as thick as `wanted` [Pa s]: [s], infinite where it is not within the history.

    Between two instants conversion and temperature are taken as straight lines. A mix that warms may thin
    out at first: what counts is the last time it is passed before gel.
    """
    thick = history.viscosity >= wanted
    if not thick[-1]:
        return math.inf
    thin = np.flatnonzero(~thick)
    if len(thin) == 0:
        return float(history.time[0])
    k = int(thin[-1])
    low, high = 0.0, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        a, t = state_between(history, k, middle)
        if viscosity(a, t, history.law) < wanted:
            low = middle
        else:
            high = middle
    return float(history.time[k] + low * (history.time[k + 1] - history.time[k]))


def state_between(history: History, k: int, share: float) -> tuple[float, float]:
    """Conversion [-] and temperature [K] at `share` [-] of the way from instant `k` to the next."""
    a = history.conversion[k] + share * (history.conversion[k + 1] - history.conversion[k])
    t = history.temperature[k] + share * (history.temperature[k + 1] - history.temperature[k])
    return float(a), float(t)


def state_at(history: History, time: float) -> tuple[float, float]:
    """Conversion [-] and temperature [K] at `time` [s], held outside the history."""
    return (
        float(np.interp(time, history.time, history.conversion)),
        float(np.interp(time, history.time, history.temperature)),
    )
