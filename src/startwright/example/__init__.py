"""The invented shop: vehicles, units, a shelf and jobs, as data only."""

from __future__ import annotations

from importlib import resources
from pathlib import Path


def path() -> Path:
    """The folder of the invented shop (``vehicles/ units/ stock/ jobs/ wirings/``).

    Returns
    -------
    pathlib.Path
        A folder to read from; the installed package is never written to.
    """
    return Path(str(resources.files(__name__)))
