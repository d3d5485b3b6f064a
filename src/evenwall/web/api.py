"""Routes for what is not a page."""

from __future__ import annotations

from fastapi import APIRouter

from evenwall.web.desk import Shop
from evenwall.web.runs import Runs


def routes(shop: Shop, runs: Runs) -> APIRouter:
    """The app's own routes."""
    router = APIRouter()

    @router.get("/dev/{name}")
    def dev(name: str):
        from starlette.responses import Response
        import numpy as np
        from evenwall.geometry.ammonite import ammonite
        from evenwall.web.binary import pack
        s = ammonite()
        if name == "shape":
            return Response(pack({"vertices": s.vertices, "faces": s.faces.astype(np.uint32)}, {}), media_type="application/octet-stream")
        t = np.linspace(0, 1, 40)
        x = s.vertices
        th = np.stack([0.003 + 0.002 * np.sin(60 * x[:, 0] + 5 * u) * np.cos(50 * x[:, 2]) for u in t])
        g = np.stack([np.cos(6 * t), np.sin(6 * t), 0 * t], 1)
        return Response(pack({"thickness": th, "gravity": g}, {"times": list(60 + 400 * t), "top": 0.006}), media_type="application/octet-stream")

    return router
