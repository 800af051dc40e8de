"""How a check at the meter is said: what each candidate shows, how sure it is."""

from __future__ import annotations

from collections.abc import Sequence

from startwright.records.words import KEY_FED
from startwright.web import say

SURE = (
    (0.985, "as good as certain"),
    (0.95, "almost certain"),
    (0.90, "very likely"),
    (0.70, "likely"),
    (0.50, "more likely than not"),
    (0.20, "possible"),
    (0.0, "hardly"),
)


def state_words(do: Sequence[str]) -> str:
    """What was operated when a value was read, short: ``key run, brake press``."""
    return ", ".join(one.replace("_", " ") for one in do) or "key off"


def sure_words(probability: float) -> str:
    """How sure that is, in words.

    >>> sure_words(0.97)
    'almost certain'
    """
    return next(words for least, words in SURE if probability >= least)


def percent(probability: float) -> str:
    """``97 %``; what is not quite certain is never said to be."""
    whole = min(99, round(probability * 100))
    return "under 1 %" if whole < 1 else f"{whole} %"


def shown(symbol: str, do: Sequence[str]) -> str:
    """What the meter shows for one of the model's symbols under these actions, in volts."""
    words = []
    for one in symbol.split(" or "):
        if one == "battery voltage":
            if "key start" in do:
                words.append("stays up, about 10 V")
            else:
                words.append("about 14 V" if "engine starts" in do else "about 12 V")
        elif one == "0 V":
            words.append("0 V while the starter turns" if "key start" in do else "0 V")
        elif one == "nothing (drifts)":
            words.append("drifts, nothing holds it")
        elif one == "moving":
            words.append("never stands still")
        elif one == "in between":
            words.append("something in between")
        else:
            words.append(one)
    return " or ".join(words)


def function_said(function: str, active: str | None) -> str:
    """A function with the level that it goes to when worked; a feed has the battery's anyway.

    >>> function_said("hood", "ground"), function_said("ignition", "battery")
    ('hood, to ground', 'ignition')
    """
    words = say.function_words(function)
    plain = active is None or (function in KEY_FED and active == "battery")
    return words if plain else f"{words}, to {active}"


def candidate(name: str) -> str:
    """A candidate of the next check in trade words."""
    return "something else" if name == "something else" else say.function_words(_slug(name))


def _slug(name: str) -> str:
    return name.replace(" ", "_")


def volts(value: float) -> str:
    """A value as a meter shows it."""
    return f"{value:.2f}".rstrip("0").rstrip(".") + " V"
