"""`serve` and `try`: the app comes up, on a copy of the invented shop, and goes away."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from startwright.cli.serving import listen
from startwright.records import RecordError


def test_a_taken_port_is_said() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(RecordError) as error:
            listen("127.0.0.1", taken.getsockname()[1])
    assert "--port 0" in error.value.expected


def test_an_address_of_no_machine() -> None:
    with pytest.raises(RecordError) as error:
        listen("192.0.2.1", 0)
    assert "an address of this machine" in error.value.expected


def test_any_free_port() -> None:
    with listen("127.0.0.1", 0) as listening:
        assert listening.getsockname()[1] > 0


def test_try_serves_a_copy_and_throws_it_away(tmp_path: Path) -> None:
    env = {**os.environ, "TMPDIR": str(tmp_path)}
    served = subprocess.Popen(
        [sys.executable, "-m", "startwright", "try", "--no-browser", "--port", "0"],
        env=env,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert served.stdout is not None
        said = served.stdout.readline()
        address = re.search(r"http://127\.0\.0\.1:\d+", said)
        assert address is not None, said
        copies = list(tmp_path.glob("startwright-*/shop/jobs/plain.yaml"))
        assert len(copies) == 1
        with urllib.request.urlopen(address.group(), timeout=20) as page:
            assert page.status == 200
            assert b"plain" in page.read()
    finally:
        served.send_signal(signal.SIGINT)
        served.communicate(timeout=20)
    assert list(tmp_path.glob("startwright-*")) == []
