"""What a page is asked with: the open database, the device, the form, the piece it is about."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Annotated, TypeVar

from fastapi import Depends, Request

from benchside.job import shop as job_shop
from benchside.job.drafts import TypingUnit
from benchside.store.database import Shop

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Told = TypeVar("Told", bound="DataclassInstance")


TYPING_UNIT_COOKIE = "benchside_typing_unit"


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


def device_id_of(request: Request) -> int | None:
    """The paired device a request comes from; None is the laptop itself."""
    device = getattr(request.state, "device", None)
    return None if device is None else device.id


def typing_unit(request: Request) -> TypingUnit:
    """What patterns are typed in on this device: as it was last chosen, else as the shop works."""
    chosen = request.cookies.get(TYPING_UNIT_COOKIE)
    return "in" if chosen == "in" else "mm" if chosen == "mm" else shop_unit(request)


def shop_unit(request: Request) -> TypingUnit:
    """What the shop's own lengths are shown and taken in: as the newest set is turned, before the
    first as this device types."""
    works_in = job_shop.works_in(shop_of(request))
    return works_in or ("in" if request.cookies.get(TYPING_UNIT_COOKIE) == "in" else "mm")


def filled(form: type[Told], typed: Mapping[str, str]) -> Told:
    """A form of text fields as its dataclass; what is empty or missing is as it stands there."""
    return form(**{field.name: typed.get(field.name) or field.default for field in fields(form)})


async def _asked(request: Request, set_id: int, number: int) -> Asked:
    return Asked(request, shop_of(request), set_id, number, device_id_of(request))


async def _typed(request: Request) -> dict[str, str]:
    """A form as it came. Declaring the seventeen fields of a reading costs more than keeping it."""
    async with request.form() as form:
        return {name: value for name, value in form.items() if isinstance(value, str)}


# Asynchronous, so that no thread is taken for either.
OfPiece = Annotated[Asked, Depends(_asked)]
TypedForm = Annotated[dict[str, str], Depends(_typed)]
