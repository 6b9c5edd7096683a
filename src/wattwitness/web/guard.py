"""What stands before every page: only this machine's own browser pages may ask, and only ours may change something.

A page of another site can send requests to this machine. It cannot choose the ``Host`` that the browser writes (a name
that was made to lead here is refused), nor the ``Origin``, nor read the token in our own pages.
"""

from __future__ import annotations

import hmac

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from wattwitness.readers.open import LIMIT_BYTES

TOKEN_HEADER = "x-wattwitness-token"  # noqa: S105 (a header's name)
READING = frozenset({"GET", "HEAD"})
UPLOADS = "/add/files"
MOST_WORDS_BYTES = 1 << 20
"""Far more than any form of ours holds."""

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
ALWAYS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=()",
    "cache-control": "no-store",
}


class TooMuch(Exception):
    """More bytes came than were announced or allowed."""


class Guard:
    """Refuses what does not come from our own pages, limits what is sent, and writes the headers of every answer."""

    def __init__(self, app: ASGIApp, *, port: int, token: str) -> None:
        self._app = app
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}
        self._token = token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what may pass."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no page of ours opens a socket; the server closes it
        sender = _with_headers(send)
        refusal = self._refusal(Request(scope))
        if refusal is not None:
            await refusal(scope, receive, sender)
            return
        await self._app(scope, _limited(scope, receive), sender)

    def _refusal(self, request: Request) -> Response | None:
        headers = request.headers
        if headers.get("host", "").lower() not in self._hosts:
            return _refused(421, "This address is not one of the bench’s own.", "wrong_host")
        if _from_elsewhere(headers, reading=request.method in READING):
            return _refused(403, "Only the bench’s own pages may ask this.", "from_elsewhere")
        if request.method in READING:
            return None
        if headers.get("origin", "").lower() not in {f"http://{host}" for host in self._hosts}:
            return _refused(403, "Only the bench’s own pages may change something.", "from_elsewhere")
        if not hmac.compare_digest(headers.get(TOKEN_HEADER, "").encode(), self._token.encode()):
            return _refused(403, "This page is from before the program was started anew.", "stale_page")
        if _announced(headers) > most_bytes(request.url.path):
            return too_much(request, TooMuch())
        return None


def most_bytes(path: str) -> int:
    """How much may be sent to an address."""
    return LIMIT_BYTES if path.startswith(UPLOADS) else MOST_WORDS_BYTES


def _from_elsewhere(headers: Headers, *, reading: bool) -> bool:
    """What the browser itself says of where a request comes from; a link that is followed to a page may come."""
    site, mode = headers.get("sec-fetch-site", ""), headers.get("sec-fetch-mode", "")
    if site in ("", "same-origin", "none"):
        return False
    return not (reading and mode == "navigate" and headers.get("sec-fetch-dest", "") == "document")


def _announced(headers: Headers) -> int:
    text = headers.get("content-length", "0")
    return int(text) if text.isascii() and text.isdigit() else 0


def _limited(scope: Scope, receive: Receive) -> Receive:
    """The same body, counted: what was not announced is not taken either."""
    left = most_bytes(scope["path"])

    async def counted() -> Message:
        nonlocal left
        message = await receive()
        if message["type"] == "http.request":
            left -= len(message.get("body", b""))
            if left < 0:
                raise TooMuch
        return message

    return counted


def _with_headers(send: Send) -> Send:
    async def written(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in ALWAYS.items():
                headers.setdefault(name, value)
        await send(message)

    return written


def too_much(request: Request, _error: Exception) -> Response:
    """More was sent than an address takes."""
    if request.url.path.startswith(UPLOADS):
        what, hint = "That is more than any recording of a ride holds; nothing of it was kept.", ""
    else:
        what = f"That is more than the {MOST_WORDS_BYTES >> 20} MiB that a form holds; nothing of it was kept."
        hint = "Shorten the text, or give it in parts; recordings are dropped under “Add rides”."
    return _refused(413, what, "file_too_large", hint=hint)


def _refused(status: int, what: str, slug: str, *, hint: str = "") -> Response:
    hints = {
        "wrong_host": "Open the address that “wattwitness serve” printed.",
        "from_elsewhere": "Open the bench itself, at the address that “wattwitness serve” printed.",
        "stale_page": "Load the page again.",
        "file_too_large": "Export a single ride, or one device’s recording.",
    }
    answer = {"error": {"slug": slug, "what": what, "where": "", "hint": hint or hints[slug]}}
    # What was sent and refused is not read: the connection ends with the answer.
    return JSONResponse(answer, status_code=status, headers={"connection": "close"} if status == 413 else None)
