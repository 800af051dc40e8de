"""The app: a job is one sheet of paper that fills itself; thin, no computation."""

from startwright.web.app import create_app

__all__ = ["create_app"]
