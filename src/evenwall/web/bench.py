"""The bench on the app's server: its plain page, its words, and the presses on their way into the ledger.

These routes know no user; they are mounted behind the app's guard (desk) and behind the phone's own door.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse, Response

from evenwall.bench.casting import BenchPlan, Note
from evenwall.bench.facts import Facts, facts_of
from evenwall.bench.ledger import Casting, Ledger, casting_of, castings, events_of, record
from evenwall.bench.plain import events_from, events_to, recipe_from_json
from evenwall.bench.recipe import plan_of
from evenwall.bench.run import score_of
from evenwall.bench.words import languages, words_of
from evenwall.errors import EvenwallError, JobError
from evenwall.files.job_file import write_whole

PARTS: Final = Path(__file__).parent / "parts" / "bench"
HOME: Final = "/bench"
MOST_PHOTO: Final = 20_000_000  # bytes
PICTURES: Final = {b"\xff\xd8\xff": "jpg", b"\x89PNG": "png", b"RIFF": "webp"}

Replan = Callable[[Casting, Facts], BenchPlan]
"""The plan of a casting given what is known of it by now."""


def plan_again(casting: Casting, facts: Facts) -> BenchPlan:
    """The plan of a casting's recipe with the facts so far: the usual `Replan`."""
    return plan_of(recipe_from_json(casting.job), facts)


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What the routes work on."""

    ledger: Ledger
    replan: Replan = plan_again
    plans: dict[tuple[str, Facts], BenchPlan] = field(default_factory=dict)  # computed before


def page_of(casting: str) -> str:
    """Address of a casting's bench page."""
    return f"{HOME}/casting/{casting}"


def routes(bench: Bench, *, desk: bool) -> APIRouter:
    """The bench's routes; `desk` says that this is the app's own window and not a phone."""
    router = APIRouter(prefix=HOME)

    @router.get("")
    def newest() -> Response:
        known = castings(bench.ledger)
        if known:
            return RedirectResponse(page_of(known[0].id), status_code=303)
        return HTMLResponse(f"<!doctype html><title>Bench</title><p>{words_of('en')['page']['nothing']}")

    @router.get("/casting/{casting}")
    def page(casting: str) -> Response:
        return _told(
            lambda: FileResponse(PARTS / "bench.html") if casting_of(bench.ledger, casting) else Response()
        )

    @router.get("/api/words/{language}")
    def words(language: str) -> Response:
        code = language if language in languages() else "en"
        names = {one: words_of(one)["name"] for one in languages()}
        return JSONResponse({"code": code, "table": words_of(code), "all": names})

    @router.get("/api/castings/{casting}")
    def state(casting: str, stamp: str = "", had: int = -1) -> Response:
        received = bench.ledger.clock()
        return _told(
            lambda: JSONResponse(_state(bench, casting, stamp=stamp, had=had, desk=desk, received=received))
        )

    @router.post("/api/castings/{casting}/events")
    async def events(casting: str, request: Request, stamp: str = "", had: int = -1) -> Response:
        received = bench.ledger.clock()
        body = await request.body()

        def enter() -> Response:
            ids = record(bench.ledger, casting, events_from(_parsed(body)))
            answer = _state(bench, casting, stamp=stamp, had=had, desk=desk, received=received)
            return JSONResponse({"acknowledged": ids, **answer})

        return await run_in_threadpool(_told, enter)

    @router.post("/api/castings/{casting}/photos/{event}")
    async def photo(casting: str, event: str, request: Request) -> Response:
        if int(request.headers.get("content-length", "0")) > MOST_PHOTO:
            return JSONResponse(
                {"error": f"the photo is over {MOST_PHOTO // 10**6} MB: take a smaller one"}, 413
            )
        picture = await request.body()
        return await run_in_threadpool(_told, lambda: _keep_photo(bench, casting, event, picture))

    return router


def plan_now(bench: Bench, casting: Casting, facts: Facts) -> BenchPlan:
    """The casting's plan with the facts so far; the plan it began with where they can't be followed."""
    key = (casting.id, facts)
    if key not in bench.plans:
        try:
            bench.plans[key] = bench.replan(casting, facts)
        except EvenwallError as error:
            note = Note(say="no_plan", numbers={"why": str(error)})
            bench.plans[key] = replace(casting.plan, notes=(*casting.plan.notes, note))
        while len(bench.plans) > 50:
            bench.plans.pop(next(iter(bench.plans)))
    return bench.plans[key]


def _state(
    bench: Bench, casting: str, *, stamp: str, had: int, desk: bool, received: float
) -> dict[str, Any]:
    """What a page must know: the events if it has not as many, the score if it has another, and the clock."""
    begun = casting_of(bench.ledger, casting)
    events = events_of(bench.ledger, casting)
    score = score_of(plan_now(bench, begun, facts_of(events, shots=len(begun.plan.shots))))
    told = asdict(score)
    fresh = sha256(json.dumps(told, sort_keys=True).encode()).hexdigest()[:16]
    answer: dict[str, Any] = {"desk": desk, "stamp": fresh}
    if fresh != stamp:
        answer["score"] = told
    if len(events) != had:
        answer["events"] = events_to(events)
    answer["clock"] = {"received": received, "answered": bench.ledger.clock()}
    return answer


def _keep_photo(bench: Bench, casting: str, event: str, picture: bytes) -> Response:
    if event not in {known.id for known in events_of(bench.ledger, casting) if known.kind == "photo"}:
        return JSONResponse({"error": "this photo is not announced in the ledger yet: it is sent again"}, 404)
    ending = next((name for magic, name in PICTURES.items() if picture.startswith(magic)), None)
    if ending is None or len(picture) > MOST_PHOTO:
        return JSONResponse({"error": "this is no JPEG, PNG or WebP picture: take another"}, 415)
    folder = bench.ledger.path.parent / "photos"
    folder.mkdir(exist_ok=True)
    write_whole(folder / f"{event}.{ending}", picture)
    return JSONResponse({"kept": event})


def _parsed(body: bytes) -> Any:
    try:
        return json.loads(body)
    except ValueError:
        raise JobError("bench events: the text is no JSON: send it again") from None


def _told(act: Callable[[], Response]) -> Response:
    """What `act` answers, or its fault as one sentence."""
    try:
        return act()
    except EvenwallError as error:
        return JSONResponse({"error": str(error)}, 422)
