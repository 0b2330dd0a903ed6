"""The service itself: what it is, pairing a phone, its own description."""

from __future__ import annotations

import io
from typing import Annotated

from fastapi import APIRouter, Request, Response
from pydantic import Field

from chargewright.jobs.parts import Part
from chargewright.jobs.photos import MAX_PHOTO_BYTES
from chargewright.version import __version__
from chargewright.web.context import Here
from chargewright.web.guard import MAX_BODY, is_home
from chargewright.web.models import Out, Service
from chargewright.web.pairing import COOKIE, SESSION_S
from chargewright.web.problems import Problem
from chargewright.web.strict import strictly

router = APIRouter(tags=["service"])


class Code(Part):
    """The code a phone's user typed."""

    code: Annotated[str, Field(max_length=40)]


class PairPage(Out):
    """The code for the next phone, where the service is found, and a picture that holds both."""

    code: str
    addresses: list[str]
    qr_svg: str


CodeSent = Annotated[Code, strictly(Code)]


@router.get("/service")
async def get_service(here: Here, request: Request) -> Service:
    """Tell which service this is."""
    return Service(
        program=__version__,
        paired=bool(request.scope["paired"]),
        home=is_home(request.scope),
        secure=here.settings.secure,
        max_photo_bytes=MAX_PHOTO_BYTES,
        max_body_bytes=MAX_BODY,
    )


@router.post("/pair", status_code=204)
async def pair(here: Here, sent: CodeSent, response: Response) -> None:
    """Pair this phone: the code once, a cookie from then on."""
    if here.pairing is None:
        raise Problem(404, "this service is for its own machine only: nothing to pair")
    response.set_cookie(
        COOKIE,
        here.pairing.pair(sent.code),
        max_age=SESSION_S,
        httponly=True,
        samesite="strict",
        secure=here.settings.secure,
    )


@router.get("/pair")
async def pair_page(here: Here, request: Request) -> PairPage:
    """Show what the next phone needs; only to a paired one or on the serving machine."""
    if not request.scope["paired"]:
        raise Problem(401, "pair this phone first: type the code the service shows")
    if here.pairing is None:
        raise Problem(404, "this service is for its own machine only; serve it with --network")
    code, addresses = here.pairing.code(), here.settings.addresses
    link = f"{addresses[0]}#/?code={code}" if addresses else code
    return PairPage(code=code, addresses=list(addresses), qr_svg=qr_svg(link))


@router.delete("/pair", status_code=204)
async def unpair(here: Here, response: Response) -> None:
    """Forget this phone."""
    response.delete_cookie(COOKIE, httponly=True, samesite="strict", secure=here.settings.secure)


def qr_svg(text: str) -> str:
    """Return a QR code (ISO/IEC 18004) as SVG text."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m").save(
        out, kind="svg", scale=6, border=3, light="#fff", xmldecl=False
    )
    return out.getvalue().decode("utf-8")
