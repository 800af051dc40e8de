"""Typst, kept so that the same input gives the same bytes on every machine."""

from __future__ import annotations

import io
import json
import shutil
import tempfile
from importlib import resources, util
from pathlib import Path
from typing import Any, Literal

Paper = Literal["a4", "us-letter"]
FACES = ("Regular", "Semibold", "Bold")


def fonts() -> list[Path]:
    """The font files of the sheets: Source Sans Pro (SIL Open Font License), from its package."""
    spec = util.find_spec("font_source_sans_pro")
    if spec is None or not spec.submodule_search_locations:
        raise RuntimeError("the package font-source-sans-pro is not installed; the sheets need it")
    folder = Path(spec.submodule_search_locations[0]) / "files"
    return [folder / f"SourceSansPro-{face}.otf" for face in FACES]


def pdf(template: str, data: dict[str, Any]) -> bytes:
    """Set a template of this package with `data`.

    Parameters
    ----------
    template : str
        A file in ``templates/``.
    data : dict
        Goes in as one JSON input and is read there by ``json``; no word of it is ever source.

    Returns
    -------
    bytes
        The PDF, without a date; identical for identical input.
    """
    import typst  # late: 45 ms that no drawing needs

    folder = Path(str(resources.files(__package__).joinpath("templates")))
    with tempfile.TemporaryDirectory() as only:
        # The package holds each face twice (OTF and TTF); which one typst met first would depend
        # on the file system, so it is given a folder with one of each.
        for file in fonts():
            shutil.copy(file, only)
        out = typst.compile(
            str(folder / template),
            root=str(folder),
            font_paths=[only],
            ignore_system_fonts=True,
            format="pdf",
            sys_inputs={"data": json.dumps(data, ensure_ascii=False, sort_keys=True)},
        )
    if not isinstance(out, bytes):
        raise RuntimeError(f"{template} gave no single document")
    return out


def qr_svg(text: str) -> str:
    """A QR code as SVG, medium error correction (ISO/IEC 18004)."""
    import segno

    buffer = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        buffer, kind="svg", xmldecl=False, svgns=True, border=2, scale=4
    )
    return buffer.getvalue().decode()
