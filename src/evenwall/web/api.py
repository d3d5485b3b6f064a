"""Routes for what is not a page: triangles, films, paper, and meshes that are dropped."""

from __future__ import annotations

from collections.abc import AsyncIterator
from pathlib import Path
from typing import Final

import numpy as np
from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, JSONResponse, Response

from evenwall.errors import EvenwallError
from evenwall.web import kept_runs, rooms, urls
from evenwall.web.binary import pack
from evenwall.web.desk import Desk, Shop
from evenwall.web.runs import Runs

#: endings of mesh files that are taken, and the name that such a file gets in the job folder
ENDINGS: Final = (
    ".stl",
    ".obj",
    ".ply",
    ".3mf",
    ".glb",
    ".stl.gz",
    ".obj.gz",
    ".ply.gz",
    ".3mf.gz",
    ".glb.gz",
)
BYTES: Final = "application/octet-stream"
WORKSHEET: Final = "worksheet.pdf"


def routes(shop: Shop, runs: Runs) -> APIRouter:
    """The routes, on the desks of `shop`."""
    router = APIRouter()

    @router.get(urls.SHAPE)
    def shape(key: str) -> Response:
        desk = shop.desk(key)
        try:
            account = rooms.kept_piece(desk.folder, desk.file) if desk else None
        except EvenwallError:
            account = None
        if account is None:
            return _missing("the piece is not read yet")
        block = pack({"vertices": account.vertices, "faces": account.faces.astype(np.uint32)}, {})
        return Response(block, media_type=BYTES, headers={"cache-control": "private, max-age=600"})

    @router.get(urls.FILM)
    def film(key: str, run: str, coat: int = 0) -> Response:
        desk = shop.desk(key)
        about = kept_runs.about_run(desk.folder, run) if desk else None
        result = kept_runs.load(desk.folder, run) if desk else None
        if about is None or result is None:
            return _missing("this forecast is not kept")
        return Response(kept_runs.film_block(result, coat=coat, top=about.top), media_type=BYTES)

    @router.get(urls.DIFFERENCE)
    def difference(key: str, run: str, other: str) -> Response:
        desk = shop.desk(key)
        one = kept_runs.load(desk.folder, run) if desk else None
        two = kept_runs.load(desk.folder, other) if desk else None
        if one is None or two is None:
            return _missing("one of these forecasts is not kept")
        return Response(kept_runs.difference_block(one, two), media_type=BYTES)

    @router.get(urls.PAPER)
    async def paper(key: str) -> Response:
        desk = shop.desk(key)
        if desk is None:
            return _missing("this job is not open any more: open it from the start page")
        task = await runs.finish(desk.key, "worksheet", desk.folder)
        if task.error:
            return Response(f"There is no worksheet: {task.error}.", 409, media_type="text/plain")
        said = {"cache-control": "no-store", "content-disposition": f'inline; filename="{WORKSHEET}"'}
        return FileResponse(desk.folder / WORKSHEET, media_type="application/pdf", headers=said)

    @router.post(urls.MESH)
    async def mesh(key: str, name: str, request: Request) -> JSONResponse:
        desk = shop.desk(key)
        if desk is None:
            return JSONResponse({"error": "this job is not open any more: open it from the start page"}, 404)
        ending = next((e for e in sorted(ENDINGS, key=len, reverse=True) if name.lower().endswith(e)), "")
        if not ending:
            kinds = "STL, OBJ, PLY, 3MF or GLB"
            return JSONResponse(
                {"error": f"evenwall reads {kinds}, also .gz: save the model as one of these"}, 415
            )
        name = _unused(desk.folder, ending)
        size = await _keep(request.stream(), desk.folder / name)
        if not size:
            return JSONResponse({"error": "the file is empty: choose another"}, 422)
        try:
            _took(desk, name)
        except EvenwallError as error:
            return JSONResponse({"error": str(error)}, 422)
        return JSONResponse({"size": size})

    return router


def _unused(folder: Path, ending: str) -> str:
    """A name for a new mesh; the older ones stay, so that undo finds them."""
    number = 1
    while any(folder.glob(f"piece-{number}.*")):
        number += 1
    return f"piece-{number}{ending}"


def _took(desk: Desk, name: str) -> None:
    """A new mesh lies in the folder: what was said about the old one is forgotten."""
    forget = {f"piece.{key}": None for key in ("unit", "height_mm", "answers", "refuse", "sides")}
    desk.edit({**forget, "piece.mesh": name})
    desk.tell()  # where a mesh that was lost comes back under its own name, job.toml does not change


async def _keep(stream: AsyncIterator[bytes], path: Path) -> int:
    """Write a stream into a file, whole or not at all; its size."""
    part = path.with_name(f".{path.name}.part")
    size = 0
    try:
        with part.open("wb") as file:
            async for chunk in stream:
                file.write(chunk)
                size += len(chunk)
        if size:
            part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return size


def _missing(why: str) -> Response:
    return Response(why, 404, media_type="text/plain")
