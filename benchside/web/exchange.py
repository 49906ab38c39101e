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

from benchside.errors import BenchsideError, NotFound, NotUnderstood
from benchside.job import exchange, sets
from benchside.job.exchange import readings_file
from benchside.job.exchange.csv_tables import table, to_tables
from benchside.job.exchange.taking_in import Looked, look_through
from benchside.store.backup import backup, stamp
from benchside.web.asked import shop_of
from benchside.web.door import MOST_BYTES
from benchside.web.render import now, problem_json, render, see, wants_json

router = APIRouter()
LONGEST_GIVEN_BACK = 2_000_000  # judgement, characters: more than that is chosen again as a file


@router.get("/sets/{set_id}/export.json")
def set_file(request: Request, set_id: int) -> Response:
    document = exchange.export_set(shop_of(request), set_id, now=now())
    return _json_file(document, f"benchside-set-{set_id}-{stamp(now())}.json")


@router.get("/export.json")
def everything_file(request: Request) -> Response:
    document = exchange.export_all(shop_of(request), now=now())
    return _json_file(document, f"benchside-{stamp(now())}.json")


@router.get("/sets/{set_id}/export.zip")
def set_tables(request: Request, set_id: int) -> Response:
    document = exchange.export_set(shop_of(request), set_id, now=now())
    return _zip_file(document, f"benchside-set-{set_id}-{stamp(now())}.zip")


@router.get("/export.zip")
def everything_tables(request: Request) -> Response:
    document = exchange.export_all(shop_of(request), now=now())
    return _zip_file(document, f"benchside-{stamp(now())}.zip")


@router.get("/backup")
def backup_file(request: Request) -> Response:
    folder = tempfile.mkdtemp(prefix="benchside-backup-")
    try:
        made = backup(shop_of(request), Path(folder), now=now())
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
    given, leave_out = await _sent(request)
    shop = shop_of(request)
    try:
        looked = await run_in_threadpool(_looked_through, given)
        if looked.document is None or (looked.faults and not leave_out):
            return _told(request, looked, given)
        imported = await run_in_threadpool(exchange.import_into, shop, looked.document, now=now())
    except BenchsideError as problem:
        if wants_json(request):
            return problem_json(problem)
        return _page(request, pasted=given if isinstance(given, str) else "", problem=problem)
    if wants_json(request):
        return JSONResponse(asdict(imported))
    if len(imported.set_ids) == 1 and not imported.already_here:
        return see(f"/sets/{imported.set_ids[0]}?brought={imported.readings}")
    return see(
        f"/import?sets={imported.sets}&patterns={imported.patterns}"
        f"&readings={imported.readings}&already={len(imported.already_here)}"
    )


@router.get("/sets/{set_id}/readings.csv")
def readings_table(request: Request, set_id: int) -> Response:
    """The readings alone, as a table."""
    document = exchange.export_set(shop_of(request), set_id, now=now())
    return _file(table(document, "sets-readings").encode(), "text/csv", f"readings-{set_id}.csv")


@router.get("/sets/{set_id}/files")
def files(request: Request, set_id: int, taken: int | None = None) -> Response:
    return _files_page(request, set_id, taken=taken)


@router.post("/sets/{set_id}/files")
async def take_readings(request: Request, set_id: int) -> Response:
    given, told = await _sent(request, "take")
    shop = shop_of(request)
    text = given if isinstance(given, str) else given.decode("utf-8-sig", "replace")
    try:
        tried = await run_in_threadpool(readings_file.try_out, shop, set_id, text, now=now())
    except NotFound:
        raise
    except BenchsideError as problem:
        return _files_page(request, set_id, pasted=text, problem=problem)
    if not told:
        return _files_page(request, set_id, pasted=text, tried=tried)
    kept = await run_in_threadpool(
        readings_file.take, shop, set_id, tried, asked_too=told == "all", now=now()
    )
    return see(f"/sets/{set_id}/files?taken={kept}")


async def _sent(request: Request, choice: str = "leave_out") -> tuple[str | bytes, str]:
    """The file, or else what was pasted; and what was chosen besides."""
    async with request.form(max_files=1, max_fields=4, max_part_size=MOST_BYTES) as form:
        sent, text, chosen = form.get("file"), form.get("text", ""), form.get(choice, "")
        file = await sent.read() if isinstance(sent, UploadFile) else b""
    pasted = text if isinstance(text, str) else ""
    return file or pasted, chosen if isinstance(chosen, str) else ""


def _looked_through(given: str | bytes) -> Looked:
    if not given.strip():
        raise NotUnderstood(
            "There is no file, and nothing was pasted.",
            field="file",
            hint="Choose a file that benchside saved, or paste what is in it.",
        )
    return look_through(given)


def _told(request: Request, looked: Looked, given: str | bytes) -> Response:
    """Nothing was brought in: every row that is in the way, and the file given back."""
    if wants_json(request):
        first = looked.faults[0]
        return JSONResponse(
            {
                "field": first.where,
                "message": f"{first.where}: {first.message}",
                "hint": first.hint,
                "faults": [asdict(fault) for fault in looked.faults],
            },
            status_code=422,
        )
    text = given if isinstance(given, str) else looked.text
    pasted = text if len(text) <= LONGEST_GIVEN_BACK else ""
    return _page(request, pasted=pasted, looked=looked)


def _files_page(
    request: Request,
    set_id: int,
    *,
    pasted: str = "",
    tried: readings_file.Tried | None = None,
    taken: int | None = None,
    problem: BenchsideError | None = None,
) -> Response:
    return render(
        request,
        "sets/files.html",
        status=problem.status if problem else 200,
        here="home",
        kept=sets.standing(shop_of(request), set_id).kept,
        pasted=pasted,
        tried=tried,
        taken=taken,
        problem=problem,
    )


def _page(
    request: Request,
    *,
    brought: dict[str, int] | None = None,
    already: int = 0,
    pasted: str = "",
    looked: Looked | None = None,
    problem: BenchsideError | None = None,
) -> Response:
    return render(
        request,
        "import.html",
        status=problem.status if problem else 422 if looked else 200,
        here="shop",
        brought=brought,
        already=already,
        pasted=pasted,
        looked=looked,
        problem=problem,
    )


def _json_file(document: dict[str, Any], name: str) -> Response:
    return _file(exchange.to_json(document).encode(), "application/json", name)


def _zip_file(document: dict[str, Any], name: str) -> Response:
    return _file(to_tables(document), "application/zip", name)


def _file(content: bytes, kind: str, name: str) -> Response:
    return Response(
        content,
        media_type=kind,
        headers={
            "Content-Disposition": f'attachment; filename="{name}"',
            "Cache-Control": "no-store",
        },
    )
