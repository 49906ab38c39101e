"""Files out and in: a set or everything as JSON, a backup of the database, and the import page."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.responses import FileResponse, JSONResponse
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from benchside.errors import BenchsideError, NotUnderstood
from benchside.job import exchange
from benchside.job.exchange import Imported
from benchside.store.backup import backup, stamp
from benchside.store.database import Shop
from benchside.web.door import MOST_BYTES
from benchside.web.render import now, problem_json, render, see, wants_json

router = APIRouter()


@router.get("/sets/{set_id}/export.json")
def set_file(request: Request, set_id: int) -> Response:
    document = exchange.export_set(request.app.state.shop, set_id, now=now())
    return _json_file(document, f"benchside-set-{set_id}-{stamp(now())}.json")


@router.get("/export.json")
def everything_file(request: Request) -> Response:
    document = exchange.export_all(request.app.state.shop, now=now())
    return _json_file(document, f"benchside-{stamp(now())}.json")


@router.get("/backup")
def backup_file(request: Request) -> Response:
    folder = tempfile.mkdtemp(prefix="benchside-backup-")
    try:
        made = backup(request.app.state.shop, Path(folder), now=now())
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return FileResponse(
        made,
        filename=made.name,
        media_type="application/vnd.sqlite3",
        headers={"Cache-Control": "no-store"},
        background=BackgroundTask(shutil.rmtree, folder, ignore_errors=True),
    )


@router.get("/import")
def ask_for_a_file(
    request: Request,
    sets: int | None = None,
    patterns: int = 0,
    readings: int = 0,
    already: int = 0,
) -> Response:
    brought = None if sets is None else dict(sets=sets, patterns=patterns, readings=readings)
    return _page(request, brought=brought, already=already)


@router.post("/import")
async def bring_in(request: Request) -> Response:
    pasted = ""
    try:
        async with request.form(max_files=1, max_fields=4, max_part_size=MOST_BYTES) as form:
            sent, text = form.get("file"), form.get("text", "")
            pasted = text if isinstance(text, str) else ""
            given = await sent.read() if isinstance(sent, UploadFile) else b""
        imported = await run_in_threadpool(_bring_in, request.app.state.shop, given or pasted)
    except BenchsideError as problem:
        if wants_json(request):
            return problem_json(problem)
        return _page(request, pasted=pasted, problem=problem)
    if wants_json(request):
        return JSONResponse(asdict(imported))
    if len(imported.set_ids) == 1 and not imported.already_here:
        return see(f"/sets/{imported.set_ids[0]}")
    return see(
        f"/import?sets={imported.sets}&patterns={imported.patterns}"
        f"&readings={imported.readings}&already={len(imported.already_here)}"
    )


def _bring_in(shop: Shop, given: str | bytes) -> Imported:
    if not given.strip():
        raise NotUnderstood(
            "There is no file, and nothing was pasted.",
            field="file",
            hint="Choose a file that benchside saved, or paste what is in it.",
        )
    return exchange.import_into(shop, exchange.from_json(given), now=now())


def _page(
    request: Request,
    *,
    brought: dict[str, int] | None = None,
    already: int = 0,
    pasted: str = "",
    problem: BenchsideError | None = None,
) -> Response:
    return render(
        request,
        "import.html",
        status=problem.status if problem else 200,
        here="shop",
        brought=brought,
        already=already,
        pasted=pasted,
        problem=problem,
    )


def _json_file(document: dict[str, Any], name: str) -> Response:
    return Response(
        exchange.to_json(document),
        media_type="application/json",
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "no-store",
        },
    )
