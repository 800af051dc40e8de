"""Run a command: exit statuses, and one shape for every error.

0 all is well, 1 the answer is no (breached, fails, no plan), 2 the input is wrong, 3 not finished:
the proof, or of a proven wiring a single fault or a pair that was tried. With ``--json`` standard
output is one JSON document and nothing else, errors included. A command that was stopped (Ctrl-C)
has not finished: 3. A reader that closes the pipe early changes nothing. Where the program itself
failed it is 70, never 1.
"""

from __future__ import annotations

import json
import sys
import traceback
from collections.abc import Sequence
from typing import NoReturn

import typer

from startwright.cli.output import hold
from startwright.cli.stopped import stopped
from startwright.records.errors import RecordError

WELL, NO, WRONG = 0, 1, 2
INTERRUPTED = 130
BROKEN = 70
"""The program itself failed (EX_SOFTWARE); no answer about the car."""


def run(arguments: Sequence[str]) -> int:
    """Run one command line and give its exit status."""
    as_json = "--json" in arguments
    try:
        from startwright.cli.commands import app

        status = app(args=list(arguments), prog_name="startwright", standalone_mode=False)
        sys.stdout.flush()
        return stopped(as_json) if status == INTERRUPTED else int(status or 0)
    except RecordError as error:
        return _refuse(error, as_json)
    except (KeyboardInterrupt, typer.Abort):
        return stopped(as_json)
    except typer.Exit as exit:
        return int(exit.exit_code)
    except Exception as error:
        say = getattr(error, "format_message", None)
        if say is not None:  # what the command line itself finds wrong
            return _refuse(_usage(error, say()), as_json)
        if as_json:
            _refuse(
                RecordError(
                    f"a fault of this program ({type(error).__name__}: {error})",
                    "startwright",
                    "an answer; please report it with the records",
                ),
                as_json,
            )
            return BROKEN
        raise


def _usage(error: Exception, says: str) -> RecordError:
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "startwright"
    return RecordError(" ".join(says.split()).rstrip("."), path, f"what `{path} --help` lists")


def _refuse(error: RecordError, as_json: bool) -> int:
    if as_json:
        sys.stdout.write(json.dumps(error.as_json(), ensure_ascii=False, indent=2) + "\n")
    else:
        for one in (error, *error.others[:9]):
            sys.stderr.write(f"{one.where}: {one.what}\n  expected {one.expected}\n")
        if len(error.others) > 9:
            sys.stderr.write(f"and {len(error.others) - 9} more\n")
    return WRONG


def main() -> NoReturn:
    """The entry point of the ``startwright`` command."""
    out = hold()
    try:
        status = run(sys.argv[1:])
        sys.stdout.flush()
    except Exception:
        traceback.print_exc()
        status = BROKEN
    if out is not None and out.lost is not None:
        why = out.lost.strerror or str(out.lost)
        what = f"an answer that cannot be written ({why})"
        status = _refuse(RecordError(what, "standard output", "room for it"), as_json=False)
    sys.exit(status)
