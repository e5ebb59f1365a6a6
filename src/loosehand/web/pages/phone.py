"""Phone: the code that pairs a device, the devices that are paired, and the pairing itself."""

from pathlib import Path

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from loosehand.errors import LoosehandError
from loosehand.web.desk import desk_of, page
from loosehand.web.guard import is_this_machine
from loosehand.web.pairing import COOKIE
from loosehand.web.statuses import http_status

__all__ = ["ROUTES"]

_COOKIE_LIFE_S = 400 * 24 * 3600
_CSS = Path(__file__).parent.parent / "static" / "css"
_LOOK = ("base.css", "phone.css")
_ONLY_HERE = "Devices are paired and unpaired on the computer that runs Loosehand, not from here."


def _phone(request: Request) -> Response:
    """Show the code, or how to start so that there is one."""
    desk = desk_of(request)
    if not is_this_machine(request.scope):
        return page(request, "phone_paired.html", here="phone")
    devices = desk.pairing.devices()
    if desk.network is None:
        return page(request, "phone.html", here="phone", network=None, devices=devices)
    code = desk.pairing.code()
    address = desk.network.url(f"/pair/{code.secret}")
    return page(
        request,
        "phone.html",
        here="phone",
        network=desk.network,
        devices=devices,
        address=address,
        code=_qr_svg(address),
        until=code.ends_at.astimezone().strftime("%H:%M"),
    )


async def _unpair(request: Request) -> Response:
    """Send a device away."""
    if not is_this_machine(request.scope):
        return PlainTextResponse(_ONLY_HERE, 403)
    form = await request.form()
    desk_of(request).pairing.send_away(str(form.get("device", "")))
    return RedirectResponse("/phone", 303)


def _ask(request: Request) -> Response:
    """Ask for the press that pairs: a look at the address alone uses no code up."""
    secret = request.path_params["secret"]
    try:
        desk_of(request).pairing.check(secret)
    except LoosehandError as error:
        return _refuse(request, error)
    return page(request, "phone_pair.html", secret=secret, sentence=None, called="Phone")


async def _pair(request: Request) -> Response:
    """Let a device in, and have it keep its token."""
    secret, pairing = request.path_params["secret"], desk_of(request).pairing
    try:
        pairing.check(secret)
    except LoosehandError as error:  # before anything else that a stranger sends is read
        return _refuse(request, error)
    name = str((await request.form()).get("name", ""))
    try:
        token = pairing.let_in(secret, name=name)
    except LoosehandError as error:
        status = http_status(error)
        return page(
            request, "phone_pair.html", status, secret=secret, sentence=str(error), called=name
        )
    answer = RedirectResponse("/", 303)
    answer.set_cookie(
        COOKIE, token, max_age=_COOKIE_LIFE_S, secure=True, httponly=True, samesite="strict"
    )
    return answer


def _look(request: Request) -> Response:
    """Return the looks of the page that pairs; a device that is not paired gets no other file."""
    try:
        desk_of(request).pairing.check(request.path_params["secret"])
    except LoosehandError as error:
        return PlainTextResponse(str(error), http_status(error))
    text = "\n".join((_CSS / name).read_text(encoding="utf-8") for name in _LOOK)
    return Response(text, media_type="text/css")


def _refuse(request: Request, error: LoosehandError) -> Response:
    """Say why a code does not let anybody in."""
    return page(request, "phone_refused.html", http_status(error), sentence=str(error))


def _qr_svg(address: str) -> str:
    """Draw an address as a QR code, dark on white in every theme."""
    import segno

    code = segno.make_qr(address, error="m")
    return str(code.svg_inline(scale=1, border=4, omitsize=True, dark="#000", light="#fff"))


ROUTES = [
    Route("/phone", _phone, name="phone"),
    Route("/phone/unpair", _unpair, methods=["POST"], name="unpair"),
    Route("/pair/{secret}", _ask, name="pair"),
    Route("/pair/{secret}", _pair, methods=["POST"]),
    Route("/pair/{secret}/look.css", _look, name="look of the pairing"),
]
