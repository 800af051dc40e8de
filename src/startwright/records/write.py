"""Writing records: YAML for people, JSON for programs; no value is lost.

Keys come in the order of the record, keys that were left out stay out, and a file is there whole
or not at all.
"""

from __future__ import annotations

import contextlib
import datetime
import io
import json
import os
import re
import tempfile
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from startwright.records.base import Record
from startwright.records.errors import RecordError

_WIDTH = 100


def to_plain(record: BaseModel) -> dict[str, Any]:
    """The record as plain data: what was given, under the keys of the file.

    Whole numbers are written without a decimal point, dates as ``2026-03-02``.
    """
    plain: dict[str, Any] = {}
    for name, field in type(record).model_fields.items():
        if name in record.model_fields_set:
            plain[field.alias or name] = _plain(getattr(record, name))
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, BaseModel):
        return to_plain(value)
    if isinstance(value, dict):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    if isinstance(value, datetime.date):
        return value.isoformat()
    return value


def to_json(record: BaseModel, *, indent: int | None = 2) -> str:
    """The record as JSON text, with a line end."""
    return json.dumps(to_plain(record), ensure_ascii=False, indent=indent, allow_nan=False) + "\n"


def to_yaml(record: BaseModel) -> str:
    """The record as YAML 1.2 text: a line for each entry of a list where it fits."""
    from ruamel.yaml import YAML

    yaml = YAML(typ="rt", pure=True)
    yaml.default_flow_style = False
    yaml.width = 4096
    yaml.allow_unicode = True
    yaml.indent(mapping=2, sequence=4, offset=2)
    out = io.StringIO()
    yaml.dump(_laid_out(to_plain(record), 0), out)
    return out.getvalue()


def _laid_out(value: Any, depth: int) -> Any:
    """Short entries in one line, long ones below each other; text in quotes where it needs them."""
    from ruamel.yaml.comments import CommentedMap, CommentedSeq

    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, dict):
        mapping = CommentedMap((_quoted(k), _laid_out(v, depth + 1)) for k, v in value.items())
        if depth and _fits(value, depth):
            mapping.fa.set_flow_style()
        return mapping
    if isinstance(value, list):
        listing = CommentedSeq(_laid_out(v, depth + 1) for v in value)
        if _fits(value, depth):
            listing.fa.set_flow_style()
        return listing
    return value


def _fits(value: Any, depth: int) -> bool:
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return False
    return len(json.dumps(value, ensure_ascii=False)) <= _WIDTH - 4 * depth


def _quoted(text: str) -> Any:
    """Double quotes around text that another YAML version could take for something else."""
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString

    if _PLAIN.fullmatch(text) and text.lower() not in _WORDS:
        return text
    return DoubleQuotedScalarString(text)


_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9_./'-]*( [A-Za-z0-9_./'-]+)*")
_WORDS = frozenset({"null", "true", "false", "yes", "no", "y", "n", "nan", "inf"})


def write(path: Path | str, record: Record) -> None:
    """Write a record file, YAML or (``.json``) JSON: whole or not at all.

    Raises
    ------
    RecordError
        Where the file cannot be written; what stood there before still stands.
    """
    path = Path(path)
    text = to_json(record) if path.suffix.lower() == ".json" else to_yaml(record)
    write_text(path, text)


def write_text(path: Path | str, text: str) -> None:
    """Write a text file whole or not at all; see `write`."""
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path | str, data: bytes) -> None:
    """Write a file whole or not at all; see `write`.

    A link stays and what it names is written. A pipe or a device (``/dev/stdout``) is written into,
    never replaced.
    """
    named = path = Path(path)
    temporary: str | None = None
    try:
        if path.is_dir():
            raise RecordError("a folder", str(path), "the name of a file to write")
        if path.exists() and (not path.is_file() or path.is_relative_to("/dev")):
            path.write_bytes(data)
            return
        path = path.resolve()
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.")
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        umask = os.umask(0)
        os.umask(umask)
        mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~umask
        os.chmod(temporary, mode)
        os.replace(temporary, path)
    except RecordError:
        raise
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise RecordError(
            f"a file that cannot be written ({reason})", str(named), "a folder to write to"
        ) from None
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
