"""The command line: the same questions on the same functions, and nothing computed here.

What takes long to import waits until it is asked for, so that Ctrl-C is heard from the beginning.
"""

from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from startwright.cli.commands import app

__all__ = ["app", "main"]


def main() -> NoReturn:
    """The entry point of the ``startwright`` command, also where it is stopped while it loads."""
    import sys

    try:
        from startwright.cli.run import main as run

        run()
    except KeyboardInterrupt:
        import signal

        from startwright.cli.stopped import stopped

        signal.signal(signal.SIGINT, signal.SIG_IGN)  # said once, however often it is pressed
        sys.exit(stopped("--json" in sys.argv))


def __getattr__(name: str) -> Any:
    if name != "app":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from startwright.cli.commands import app

    return app
