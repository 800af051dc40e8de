"""Serving the app: one address, said before it begins; a taken port is one clear error."""

from __future__ import annotations

import errno
import socket
import threading
import webbrowser
from pathlib import Path

from startwright.records.errors import RecordError


def listen(host: str, port: int) -> socket.socket:
    """A socket that listens at an address.

    Raises
    ------
    RecordError
        Where the port is taken or the address is none of this machine's.
    """
    listening: socket.socket | None = None
    try:
        family, kind, proto, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listening = socket.socket(family, kind, proto)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen(128)
    except OSError as error:
        if listening is not None:
            listening.close()
        taken = error.errno == errno.EADDRINUSE
        raise RecordError(
            f"an address that cannot be listened at ({error.strerror or error})",
            f"{host} port {port}",
            "a free port, `--port 0` for any" if taken else "an address of this machine",
        ) from None
    return listening


def serve(folder: Path, host: str, port: int, *, browser: bool) -> int:
    """Serve the app until it is stopped; gives the exit status."""
    import uvicorn

    from startwright.web.app import create_app

    application = create_app(folder)
    listening = listen(host, port)
    shown = f"[{host}]" if ":" in host else host
    address = f"http://{shown}:{listening.getsockname()[1]}"
    print(f"Startwright at {address} (stop with Ctrl+C)", flush=True)
    server = uvicorn.Server(uvicorn.Config(application, log_level="warning"))
    if browser:
        threading.Timer(0.5, webbrowser.open, [address]).start()
    server.run(sockets=[listening])
    return 0
