"""What all records share: strict keys, frozen values, quantities with their unit in the key."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

from startwright.records.words import COLOURS


class Record(BaseModel):
    """A frozen model that refuses unknown keys and values that are not numbers."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, allow_inf_nan=False
    )


def _colour(value: str) -> str:
    parts = value.split("/")
    if not 1 <= len(parts) <= 3 or any(p not in COLOURS for p in parts):
        raise ValueError("a colour is IEC 60757 letters, base first, then stripe, such as GN/YE")
    return value


ColourCode = Annotated[str, AfterValidator(_colour)]
"""IEC 60757 letters, base first, then stripe: ``GN/YE``."""

Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_-]{0,63}$")]
"""A name usable in a terminal: lower case letters, digits, ``_`` and ``-``."""

PartId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$")]
"""The name of a part in a wiring (``K1``)."""

Text = Annotated[str, StringConstraints(max_length=10_000)]
NonNegative = Annotated[float, Field(ge=0, le=1e6)]
Positive = Annotated[float, Field(gt=0, le=1e6)]
