"""What all records share: strict keys, frozen values, quantities with their unit in the key."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
)
from pydantic_core import PydanticCustomError

from startwright.records.words import COLOURS


class Record(BaseModel):
    """A frozen model that refuses unknown keys and values that are not numbers."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, allow_inf_nan=False
    )


def wrong(what: str, expected: str, at: tuple[str | int, ...] = ()) -> PydanticCustomError:
    """What a validator raises: what does not hold together, what would, and where below it."""
    context: dict[str, Any] = {"what": what, "expected": expected, "at": at}
    return PydanticCustomError("wrong", "{what}; expected {expected}", context)


def once(what: str, where: str, ids: Iterable[str]) -> None:
    """Raise where an id stands twice in the list that the key `where` holds."""
    seen: set[str] = set()
    for n, id in enumerate(ids):
        if id in seen:
            raise wrong(f"two {what} called {id!r}", "each id once", (where, n))
        seen.add(id)


def _colour(value: str) -> str:
    parts = value.split("/")
    if not 1 <= len(parts) <= 3 or any(p not in COLOURS for p in parts):
        raise wrong(
            f"the colour {value[:40]!r}",
            f"IEC 60757 letters ({' '.join(COLOURS)}), base first, then stripe, such as GN/YE",
        )
    return value


def _number(value: object) -> object:
    if isinstance(value, bool):
        raise wrong(f"`{str(value).lower()}` where a number belongs", "a number")
    if isinstance(value, str):
        raise wrong(
            f"the text {value[:40]!r} where a number belongs",
            "a bare number with a decimal point; its unit is in the key",
        )
    return value


def _flag(value: object) -> object:
    """`yes` and `no` are words in YAML 1.2; where a reason may stand they mean what they say."""
    if isinstance(value, str):
        word = value.strip().lower()
        if word in ("yes", "on", "true"):
            return True
        if word in ("no", "off", "false", ""):
            return False
    return value


_ONE_COLOUR = f"({'|'.join(COLOURS)})"
ColourCode = Annotated[
    str,
    AfterValidator(_colour),
    Field(json_schema_extra={"pattern": f"^{_ONE_COLOUR}(/{_ONE_COLOUR}){{0,2}}$"}),
]
"""IEC 60757 letters, base first, then stripe: ``GN/YE``."""

Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_-]{0,63}$")]
"""A name usable in a terminal: lower case letters, digits, ``_`` and ``-``."""

ArticleId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$")]
"""What an article is called on the shelf (``wire-2.5-RD``)."""

PartId = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$")]
"""The name of a part in a wiring (``K1``)."""

Text = Annotated[str, StringConstraints(max_length=10_000)]
Number = Annotated[float, BeforeValidator(_number)]
"""A number; text and true/false are none."""

NoText = BeforeValidator(_number)
"""Put last on a number with limits, so that text and true/false are refused before they are met."""

Whole = Annotated[int, NoText]
NonNegative = Annotated[float, Field(ge=0, le=1e6), NoText]
Positive = Annotated[float, Field(gt=0, le=1e6), NoText]
Flag = Annotated[bool | Text, BeforeValidator(_flag)]
"""True, false, or true with a reason."""
