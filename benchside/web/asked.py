"""What a page is asked with: the open database, the device, the form, the piece it is about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, Request

from benchside.store.database import Shop


@dataclass(frozen=True, slots=True)
class Asked:
    """One piece of a set, and who asks about it."""

    request: Request
    shop: Shop
    set_id: int
    number: int
    device_id: int | None


def shop_of(request: Request) -> Shop:
    """The database that is open."""
    shop: Shop = request.app.state.shop
    return shop


def device_id(request: Request) -> int | None:
    """The paired device a request comes from; None is the laptop itself."""
    device = getattr(request.state, "device", None)
    return None if device is None else device.id


async def _asked(request: Request, set_id: int, number: int) -> Asked:
    return Asked(request, shop_of(request), set_id, number, device_id(request))


async def _typed(request: Request) -> dict[str, str]:
    """A form as it came. Declaring the seventeen fields of a reading costs more than keeping it."""
    async with request.form() as form:
        return {name: value for name, value in form.items() if isinstance(value, str)}


# Asynchronous, so that no thread is taken for either.
OfPiece = Annotated[Asked, Depends(_asked)]
TypedForm = Annotated[dict[str, str], Depends(_typed)]
