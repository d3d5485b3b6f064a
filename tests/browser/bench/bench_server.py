"""A server with nothing but the bench, for the browser tests: SHOP PORT ORIGIN RATE LEAPT.

Its clock runs RATE times as fast as the day's from ORIGIN on, LEAPT seconds ahead, and leaps when it is told to.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from starlette.staticfiles import StaticFiles

from evenwall.bench.casting import BenchPlan
from evenwall.bench.facts import Facts
from evenwall.bench.ledger import Casting, open_ledger
from evenwall.web.bench import PARTS, Bench, routes
from evenwall.web.bench_phone import Doorway, desk_routes, reopen_door


def slower_when_colder(casting: Casting, facts: Facts) -> BenchPlan:
    """A plan whose times double for every 10 K under the plan's room (rule of thumb, for the tests)."""
    room = facts.room if facts.room is not None else casting.plan.room
    pace = 2.0 ** ((casting.plan.room - room) / 10.0)
    shots = tuple(
        replace(
            shot,
            gel_cup=shot.gel_cup * pace,
            gel_film=shot.gel_film * pace,
            gel_film_late=shot.gel_film_late * pace,
            turn_until=shot.turn_until * pace,
            next_from=shot.next_from * pace,
            next_to=shot.next_to * pace,
            close_for=facts.close_for if facts.close_for is not None else shot.close_for,
        )
        for shot in casting.plan.shots
    )
    return replace(casting.plan, shots=shots, room=room)


def main() -> None:
    shop, port = Path(sys.argv[1]), int(sys.argv[2])
    origin, rate, leapt = (float(word) for word in sys.argv[3:])
    leaps = [leapt]
    ledger = open_ledger(shop, clock=lambda: origin + (time.time() - origin) * rate + sum(leaps))
    bench = Bench(ledger=ledger, replan=slower_when_colder)
    doorway = Doorway(bench=bench)
    app = FastAPI()
    app.include_router(desk_routes(doorway))
    app.include_router(routes(bench, desk=True))
    app.mount("/parts/bench", StaticFiles(directory=PARTS))

    @app.post("/test/leap/{seconds}")
    def leap(seconds: float) -> None:
        leaps.append(seconds)

    reopen_door(doorway)
    uvicorn.run(app, host="127.0.0.1", port=port, log_level="warning")


if __name__ == "__main__":
    main()
