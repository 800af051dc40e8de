"""Stopped by hand: what is said and the exit status, with nothing that takes long to import."""

from __future__ import annotations

import sys

NOT_FINISHED = 3
ERROR = {
    "what": "stopped before there was an answer",
    "where": "startwright",
    "expected": "time",
}
"""What a stopped command answers with ``--json``, in the one shape of every error."""


def stopped(as_json: bool) -> int:
    """Say that it was stopped; the exit status."""
    out = sys.stdout if as_json else sys.stderr
    if out is not None:  # closed by whoever called us
        says = "stopped"
        if as_json:
            import json

            says = json.dumps({"error": ERROR}, indent=2)
        out.write(f"{says}\n")
    return NOT_FINISHED
