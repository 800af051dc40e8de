"""The built wheel, installed in a clean environment, does the job on its own."""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
VENDOR = ROOT / "src" / "startwright" / "web" / "static" / "vendor"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    if not (VENDOR / "htmx.min.js").is_file():
        pytest.skip("no page scripts here: `make vendor` brings them")
    out = tmp_path_factory.mktemp("dist")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", out],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (built,) = out.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """A clean environment with the wheel; the libraries are lent by the one that tests run in."""
    home = tmp_path_factory.mktemp("clean")
    subprocess.run([sys.executable, "-m", "venv", home], check=True)
    subprocess.run(
        [home / "bin" / "pip", "install", "--quiet", "--no-deps", "--no-index", wheel],
        check=True,
        capture_output=True,
    )
    site = next((home / "lib").glob("python*/site-packages"))
    # A path in a .pth file lends the libraries, not the checkout: nested .pth files are not read.
    lent = next(p for p in sys.path if p.endswith("site-packages"))
    (site / "lent.pth").write_text(lent + "\n")
    return home / "bin" / "startwright"


def run(command, *args, cwd):
    env = {"PATH": "/usr/bin:/bin", "HOME": str(cwd), "LANG": "C.UTF-8"}
    for name in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE"):
        if name in os.environ:
            env[name] = os.environ[name]
    return subprocess.run(
        [command, *args], cwd=cwd, env=env, capture_output=True, text=True, timeout=120, check=False
    )


def test_the_wheel_carries_what_it_shows_and_nothing_else(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    for wanted in (
        "startwright/py.typed",
        "startwright/example/jobs/plain.yaml",
        "startwright/web/templates/job.html",
        "startwright/web/static/paper.css",
        "startwright/web/static/vendor/htmx.min.js",
        "startwright/web/static/vendor/uPlot.iife.min.js",
        "startwright/web/static/vendor/besley.woff2",
        "startwright/web/static/vendor/LICENSE.besley.txt",
    ):
        assert wanted in names
    assert any(n.endswith("licenses/LICENSE") for n in names)
    assert not [n for n in names if n.startswith(("tests/", "bench/", "docs/", "node_modules/"))]


def test_a_wheel_without_its_page_scripts_is_refused(tmp_path):
    copy = tmp_path / "copy"
    shutil.copytree(
        ROOT, copy, ignore=shutil.ignore_patterns(".*", "vendor", "node_modules", "tests", "bench")
    )
    result = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel"],
        cwd=copy,
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode != 0
    assert "make vendor" in result.stderr + result.stdout


def test_it_helps(installed, tmp_path):
    result = run(installed, "--help", cwd=tmp_path)
    assert result.returncode == 0, result.stderr
    for verb in ("plan", "size", "prove", "identify", "sheets", "serve", "try"):
        assert verb in result.stdout


def test_it_plans_the_example(installed, tmp_path):
    source = run(
        installed.parent / "python",
        "-c",
        "import startwright as s, startwright.example as e; print(s.__file__); print(e.path())",
        cwd=tmp_path,
    ).stdout.splitlines()
    assert str(installed.parents[1]) in source[0]
    job = Path(source[1]) / "jobs" / "plain.yaml"
    result = run(installed, "plan", str(job), "--json", cwd=tmp_path)
    assert result.returncode == 0, result.stdout + result.stderr
    plan = json.loads(result.stdout)
    assert plan["format"] == "startwright/plan/1"
    assert plan["wiring"]["runs"]


def test_it_serves(installed, tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    env = {"PATH": "/usr/bin:/bin", "HOME": str(tmp_path), "LANG": "C.UTF-8"}
    with subprocess.Popen(
        [installed, "try", "--port", str(port)],
        cwd=tmp_path,
        env=env,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as server:
        try:
            page = ""
            for _ in range(100):
                try:
                    with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=5) as answer:
                        page = answer.read().decode()
                    break
                except (urllib.error.URLError, ConnectionError):
                    assert server.poll() is None, server.stdout.read() if server.stdout else ""
                    time.sleep(0.1)
            assert "Jobs on the bench" in page
            script = page.split('src="/static/vendor/htmx')[1].split('"')[0]
            with urllib.request.urlopen(
                f"http://127.0.0.1:{port}/static/vendor/htmx{script}", timeout=5
            ) as answer:
                assert answer.status == 200
        finally:
            server.terminate()
            server.wait(10)
