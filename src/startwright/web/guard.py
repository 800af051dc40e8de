"""What stands between the network and the app: headers, hosts, origins and sizes."""

from __future__ import annotations

import ipaddress
import json
import socket
from urllib.parse import urlsplit

from starlette.types import ASGIApp, Message, Receive, Scope, Send

HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        b"font-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; "
        b"base-uri 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"geolocation=(), microphone=(), payment=(), usb=()"),
)
LIMIT_BYTES = 2 * 1024 * 1024
UPLOAD_LIMIT_BYTES = 96 * 1024 * 1024
"""Recordings run to tens of megabytes."""
UPLOAD_PATHS = ("/which-wire",)
URL_LIMIT = 8 * 1024


class TooMuch(Exception):
    """More came than may come."""


def own_host(host: str) -> bool:
    """Whether a ``Host`` may be ours: an address, this machine's name, or a local one.

    A page elsewhere can make its own name point here (DNS rebinding); it cannot make its visitor
    send an address or our name. `testserver` is what test clients send.
    """
    name = urlsplit(f"//{host}").hostname or ""
    try:
        ipaddress.ip_address(name)
    except ValueError:
        ours = socket.gethostname().lower()
        return name in ("localhost", "testserver", ours) or name.endswith((".local", ".localhost"))
    return True


def _error(what: str, where: str, expected: str) -> bytes:
    return json.dumps({"error": {"what": what, "where": where, "expected": expected}}).encode()


class Guard:
    """Adds the headers to every answer and refuses what is too large or from elsewhere."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {k.lower(): v.decode("latin-1") for k, v in scope["headers"]}
        started = False

        async def guarded_send(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                own = {k.lower() for k, _ in message["headers"]}
                message["headers"] = [
                    *message["headers"],
                    *((k, v) for k, v in HEADERS if k not in own),
                ]
            await send(message)

        async def refuse(status: int, what: str, where: str, expected: str) -> None:
            body = _error(what, where, expected)
            await guarded_send(
                {
                    "type": "http.response.start",
                    "status": status,
                    "headers": [
                        (b"content-type", b"application/json"),
                        (b"content-length", str(len(body)).encode()),
                        (b"connection", b"close"),
                    ],
                }
            )
            await guarded_send({"type": "http.response.body", "body": body})

        host = headers.get(b"host", "")
        if not own_host(host):
            await refuse(
                400, f"this app does not answer to {host[:80]!r}", "Host", "this machine's address"
            )
            return
        if len(scope.get("raw_path", b"")) + len(scope["query_string"]) > URL_LIMIT:
            await refuse(414, "the address is too long", "URL", f"at most {URL_LIMIT} bytes")
            return
        origin = headers.get(b"origin")
        if scope["method"] not in ("GET", "HEAD") and origin and urlsplit(origin).netloc != host:
            await refuse(403, "the request came from another site", "Origin", "a page of this app")
            return

        upload = scope["method"] == "POST" and scope["path"].startswith(UPLOAD_PATHS)
        limit = UPLOAD_LIMIT_BYTES if upload else LIMIT_BYTES
        said = headers.get(b"content-length", "0")
        too_large = ("the body is too large", "body", f"at most {limit // 1024 // 1024} MB")
        if not said.isdigit() or int(said) > limit:
            await refuse(413, *too_large)
            return
        came = 0

        async def guarded_receive() -> Message:
            nonlocal came
            message = await receive()
            came += len(message.get("body", b""))
            if came > limit:
                raise TooMuch
            return message

        try:
            await self.app(scope, guarded_receive, guarded_send)
        except TooMuch:
            if not started:
                await refuse(413, *too_large)
