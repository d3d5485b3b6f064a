"""Balance by trial: let go, see which side falls, hang this there, let go again.

The imbalance across one axis is unknown, so is the friction. Both are kept as a cloud of possible values
with weights; every answer weighs the cloud anew (Bayes' rule), and the next pieces are those that leave the
least torque on the average of the cloud. When the body is let go it turns until its heavy side comes to rest
within asin(friction/torque) of the lowest point, or it stays where it is left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from evenwall.errors import InputError
from evenwall.machine.counterweights import Hung
from evenwall.machine.parts import Carrier, Place, Weight
from evenwall.machine.two_weights import rest_error
from evenwall.turning.kinematics import GRAVITY, FloatArray

CLOUD: Final[int] = 4000  # possible imbalances that are followed
READ_ERROR: Final[float] = np.deg2rad(12.0)  # standard error of the side that is told [rad], typical
FRICTION: Final[tuple[float, float]] = (0.02, 0.6)  # of the bearings [N m], from and to, typical
SURE: Final[float] = 0.9  # share of the cloud that must be under the limit
TRIES: Final[int] = 4  # hangings until it should be done
MISREAD: Final[float] = 1e-3  # chance that an answer is plainly wrong [-]


@dataclass(frozen=True, kw_only=True)
class Trial:
    """What is known after some answers."""

    carrier: Carrier  # whose axis is being balanced
    cloud: FloatArray  # possible imbalances across the axis [kg m], shape (n, 2)
    friction: FloatArray  # of each [N m], (n,)
    weight: FloatArray  # chance of each, sums to 1, (n,)
    hung: tuple[Hung, ...] = ()  # what hangs now
    tries: int = 0  # hangings so far
    stays: bool = False  # at the last letting go it stayed wherever it was left


@dataclass(frozen=True, kw_only=True)
class Advice:
    """What to do next."""

    done: bool  # nothing more to hang
    hung: tuple[Hung, ...]  # what should hang, all of it
    left: float  # torque to be expected then [N m]
    sure: float  # chance that it is under the limit [-]
    words: str  # one sentence


def begin(
    carrier: Carrier, *, most: tuple[float, float], expected: tuple[float, float] = (0.0, 0.0), seed: int = 0
) -> Trial:
    """A trial that begins with an imbalance within `most` [kg m] of the expected one [kg m], an ellipse.

    Across the cradle axis the two components are x and y; across the frame axis y and z.
    """
    if not min(most) > 0.0:
        raise InputError(f"largest imbalance is {min(most):g} kg m: it must be above 0 kg m both ways")
    chance = np.random.default_rng(seed)
    size, angle = chance.uniform(size=CLOUD), 2.0 * np.pi * chance.uniform(size=CLOUD)
    low, high = np.log(FRICTION)
    return Trial(
        carrier=carrier,
        cloud=np.array(expected)
        + np.array(most) * np.column_stack((size * np.cos(angle), size * np.sin(angle))),
        friction=np.exp(chance.uniform(low, high, CLOUD)),
        weight=np.full(CLOUD, 1.0 / CLOUD),
    )


def answered(trial: Trial, side: float | None) -> Trial:
    """The trial after letting go: `side` [rad] is the one that fell and came to rest lowest.

    It is counted from the first axis across (x of the cradle, y of the frame) towards the second; None where
    the body stays at each quarter turn at which it is let go.
    """
    rest = trial.cloud + _hung_moment(trial)
    torque = GRAVITY * np.linalg.norm(rest, axis=1)
    holds = torque <= trial.friction
    if side is None:
        chance = np.where(holds, 1.0, MISREAD)
    else:
        slack = np.arcsin(np.minimum(trial.friction / np.maximum(torque, 1e-12), 1.0))
        off = np.angle(np.exp(1j * (side - np.arctan2(rest[:, 1], rest[:, 0]))))
        spread = np.sqrt(READ_ERROR**2 + slack**2 / 3.0)
        density = np.exp(-0.5 * (off / spread) ** 2) / spread
        chance = np.where(holds, MISREAD, density + MISREAD)
    weight = trial.weight * chance
    updated = replace(trial, weight=weight / weight.sum(), stays=side is None)
    return _renewed(updated)


def advice(trial: Trial, weights: Sequence[Weight], places: Sequence[Place], *, limit: float) -> Advice:
    """What to hang next so that the torque about this axis comes under `limit` [N m]."""
    now = _torques(trial, _hung_moment(trial)[None, :])[0]
    under = float(trial.weight @ (now <= limit))
    if trial.stays or under >= SURE:
        left = float(trial.weight @ now)
        why = "it stays where it is left" if trial.stays else f"about {left:.2f} N m are left"
        return Advice(done=True, hung=trial.hung, left=left, sure=under, words=f"Balanced: {why}.")
    chosen = _best_set(trial, weights, places)
    then = _torques(trial, across(chosen, trial.carrier)[None, :])[0]
    return Advice(
        done=False,
        hung=chosen,
        left=float(trial.weight @ then),
        sure=float(trial.weight @ (then <= limit)),
        words=_words(trial.hung, chosen),
    )


def hang(trial: Trial, hung: tuple[Hung, ...]) -> Trial:
    """The trial with these pieces hung, all others taken off."""
    return replace(trial, hung=hung, tries=trial.tries + 1, stays=False)


def estimate(trial: Trial) -> tuple[tuple[float, float], tuple[float, float]]:
    """The imbalance without any weight [kg m], two components, and the standard error of each."""
    mean = trial.weight @ trial.cloud
    error = np.sqrt(trial.weight @ (trial.cloud - mean) ** 2)
    return (float(mean[0]), float(mean[1])), (float(error[0]), float(error[1]))


def let_go(imbalance: FloatArray, *, friction: float, chance: np.random.Generator) -> float | None:
    """What a simulated body does: the side [rad] that comes to rest lowest, or None where it stays.

    imbalance: what is left with the weights hung [kg m], shape (2,); friction [N m].
    """
    torque = GRAVITY * float(np.linalg.norm(imbalance))
    if torque <= friction:
        return None
    slack = rest_error(friction=friction, torque=torque)
    side = float(np.arctan2(imbalance[1], imbalance[0]))
    return side + slack * float(chance.uniform(-1.0, 1.0)) + READ_ERROR * float(chance.standard_normal())


def across(hung: Sequence[Hung], carrier: Carrier) -> FloatArray:
    """Moment [kg m] across the axis of pieces that hang, shape (2,)."""
    return np.array(sum((piece.mass * _across(piece.at, carrier) for piece in hung), np.zeros(2)))


def _hung_moment(trial: Trial) -> FloatArray:
    return across(trial.hung, trial.carrier)


def _across(at: tuple[float, float, float], carrier: Carrier) -> FloatArray:
    return np.array(at[:2] if carrier == "cradle" else at[1:])


def _torques(trial: Trial, moments: FloatArray) -> FloatArray:
    """Torque [N m] of each member of the cloud with each moment (k, 2) [kg m] added: (k, n)."""
    x = trial.cloud[:, 0] + moments[:, :1]
    y = trial.cloud[:, 1] + moments[:, 1:]
    return np.asarray(GRAVITY * np.hypot(x, y))


def _renewed(trial: Trial) -> Trial:
    """The cloud drawn anew in proportion to its weights, a little spread, once few members carry it."""
    if 1.0 / float(np.square(trial.weight).sum()) > 0.25 * CLOUD:
        return trial
    chance = np.random.default_rng(trial.tries + 1)
    drawn = chance.choice(CLOUD, CLOUD, p=trial.weight)
    (_, error) = estimate(trial)
    spread = 0.1 * np.array(error) * chance.standard_normal((CLOUD, 2))
    return replace(
        trial,
        cloud=trial.cloud[drawn] + spread,
        friction=trial.friction[drawn] * np.exp(0.05 * chance.standard_normal(CLOUD)),
        weight=np.full(CLOUD, 1.0 / CLOUD),
    )


def _best_set(trial: Trial, weights: Sequence[Weight], places: Sequence[Place]) -> tuple[Hung, ...]:
    """Up to three pieces that leave the least mean torque; one piece more only where it cuts it by a tenth."""
    own = [place for place in places if place.carrier == trial.carrier]
    pairs = [(weight, place) for weight in weights for place in own]
    if not pairs:
        raise InputError(
            f"balance by trial has 0 weights or places on the {trial.carrier}: give at least 1 of each"
        )
    moments = np.array([weight.mass * _across(place.at, trial.carrier) for weight, place in pairs])
    thin = _thinned(trial)
    chosen: list[int] = []
    best = float(thin.weight @ _torques(thin, np.zeros((1, 2)))[0])
    while len(chosen) < 3:
        have = moments[chosen].sum(axis=0) if chosen else np.zeros(2)
        left = _torques(thin, have + moments) @ thin.weight
        left[[not _room(chosen, i, pairs) for i in range(len(pairs))]] = np.inf
        pick = int(np.argmin(left))
        if left[pick] > 0.9 * best:
            break
        chosen.append(pick)
        best = float(left[pick])
    return tuple(
        Hung(name=w.name, mass=w.mass, place=p.name, at=p.at, carrier=p.carrier)
        for w, p in (pairs[i] for i in chosen)
    )


def _thinned(trial: Trial) -> Trial:
    """The trial with every fourth member of its cloud."""
    weight = trial.weight[::4]
    return replace(trial, cloud=trial.cloud[::4], friction=trial.friction[::4], weight=weight / weight.sum())


def _room(chosen: Sequence[int], new: int, pairs: Sequence[tuple[Weight, Place]]) -> bool:
    weight, place = pairs[new]
    used = sum(pairs[i][0] is weight for i in chosen)
    there = sum(pairs[i][1] is place for i in chosen)
    return used < weight.count and there < place.room


def _words(now: Sequence[Hung], then: Sequence[Hung]) -> str:
    if not then:
        return "Take all weights off and let go again."
    listed = ", ".join(f"{piece.name} at {piece.place}" for piece in then)
    off = "Take off what hangs; hang" if now else "Hang"
    return f"{off} {listed}; then let go at each quarter turn and say which side falls."
