"""A copy of the invented shop, the app over it, and a browser."""

import shutil
import socket
import threading
import time
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import sync_playwright
from starlette.testclient import TestClient

from startwright.example import path
from startwright.web import create_app

CHROMIUM = next(
    (p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(p).exists()), ""
)
ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def shop(tmp_path_factory):
    """The invented shop with one job file that cannot be read."""
    folder = tmp_path_factory.mktemp("web") / "shop"
    shutil.copytree(path(), folder, ignore=shutil.ignore_patterns("*.py", "__pycache__"))
    (folder / "jobs" / "torn.yaml").write_text(
        "format: startwright/job/1\nid: torn\nwants: [flight]\n"
    )
    return folder


@pytest.fixture(scope="session")
def app(shop):
    return create_app(shop)


@pytest.fixture(scope="session")
def client(app):
    with TestClient(app, raise_server_exceptions=False) as client:
        yield client


@pytest.fixture(scope="session")
def served(shop):
    """The app served for real, for the browser: its address, and itself."""
    app = create_app(shop)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    for _ in range(200):
        if server.started:
            break
        time.sleep(0.05)
    assert server.started
    yield f"http://127.0.0.1:{port}", app
    server.should_exit = True
    thread.join(10)


@pytest.fixture(scope="session")
def base(served):
    return served[0]


@pytest.fixture(scope="session")
def browser():
    if not CHROMIUM:
        pytest.skip("no Chromium here: apt-get install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield browser
        browser.close()


@pytest.fixture
def opened(browser, base):
    """Opens a page in a window of its own, and fails the test on anything in the console."""
    pages, said = [], []

    def open_(address="/", width=1440, height=900, scheme="light", script=True):
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme=scheme,
            java_script_enabled=script,
            reduced_motion="reduce",
        )
        page = context.new_page()
        page.set_default_timeout(30_000)
        page.on(
            "console", lambda m: said.append(m.text) if m.type in ("error", "warning") else None
        )
        page.on("pageerror", lambda e: said.append(str(e)))
        page.goto(base + address)
        pages.append(context)
        return page

    open_.said = said
    yield open_
    for context in pages:
        context.close()
    assert said == []
