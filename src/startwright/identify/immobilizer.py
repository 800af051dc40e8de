"""Is an immobilizer fitted: evidence weighed, and what to look at next.

Likelihood ratios are common practice, no source, rounded to plain numbers; each piece of evidence
counts once. A key that is plain metal and starts the car means none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, log, log2
from typing import Literal

from pydantic import Field

from startwright.records.base import Record
from startwright.records.errors import RecordError

KINDS = ("none", "resistor_key", "transponder", "coded_data", "smart_key")
_PRIOR = (0.30, 0.06, 0.46, 0.08, 0.10)

# columns: none, resistor in the key, transponder, coded data, smart key
_ASKED: dict[str, dict[str, tuple[float, float, float, float, float]]] = {
    "key": {
        # the customer's own key, which starts the car
        "plain_metal": (0.55, 0.001, 0.008, 0.04, 0.001),
        "metal_with_pellet": (0.001, 0.98, 0.002, 0.01, 0.001),
        "plastic_head": (0.30, 0.01, 0.55, 0.40, 0.02),
        "remote_head": (0.10, 0.005, 0.42, 0.20, 0.03),
        "fob_without_blade": (0.02, 0.001, 0.02, 0.02, 0.95),
    },
    "plain_copy_runs": {
        # kept running for more than ten seconds: some cars start and stall
        "yes": (0.98, 0.01, 0.01, 0.15, 0.02),
        "starts_and_stalls": (0.01, 0.25, 0.55, 0.50, 0.30),
        "no": (0.01, 0.74, 0.44, 0.20, 0.68),
    },
    "telltale": {
        "flashes_key_off": (0.12, 0.30, 0.60, 0.60, 0.55),
        "lights_at_run_then_out": (0.02, 0.45, 0.55, 0.45, 0.35),
        "none": (0.90, 0.35, 0.20, 0.20, 0.25),
    },
    "fuse_label": {
        "names_immobilizer": (0.01, 0.25, 0.40, 0.35, 0.40),
        "says_nothing": (0.99, 0.75, 0.60, 0.65, 0.60),
    },
    "ring_at_lock": {
        "yes": (0.02, 0.03, 0.95, 0.15, 0.10),
        "no": (0.98, 0.97, 0.05, 0.85, 0.90),
    },
    "two_thin_wires_at_lock": {
        "yes": (0.10, 0.95, 0.30, 0.50, 0.10),
        "no": (0.90, 0.05, 0.70, 0.50, 0.90),
    },
}

_LOOK: dict[str, tuple[str, float]] = {
    "key": ("look at the key: plain metal, a pellet in the blade, a plastic head, buttons", 10.0),
    "telltale": ("watch the dash for half a minute: key off, then run", 40.0),
    "fuse_label": ("read the fuse box lid for an immobilizer or key fuse", 90.0),
    "ring_at_lock": ("look for a plastic ring with a small plug around the lock", 240.0),
    "two_thin_wires_at_lock": ("look for two thin wires from the lock barrel itself", 240.0),
    "plain_copy_runs": (
        "try a plain-cut copy: does the engine run for more than ten seconds",
        900.0,
    ),
}

QUESTIONS: dict[str, tuple[str, tuple[str, ...]]] = {
    asked: (_LOOK[asked][0], tuple(answers)) for asked, answers in _ASKED.items()
}
"""What can be looked at, how, and the answers it may have."""
CERTAIN = 0.95


class Look(Record):
    """What to look at next."""

    look: str
    asks: str
    gain_bits: float
    seconds: float


class ImmobilizerVerdict(Record):
    """Fitted, not fitted, or not known yet, with what spoke for it."""

    kind: Literal["none", "resistor_key", "transponder", "coded_data", "smart_key", "unknown"]
    fitted: bool | None
    probability: float
    probabilities: dict[str, float]
    evidence: list[str] = Field(default_factory=list)
    next_look: list[Look] = Field(default_factory=list)


def weigh_immobilizer(
    saw: Mapping[str, str], sister_cars: Sequence[str] = ()
) -> ImmobilizerVerdict:
    """Weigh what was seen.

    Parameters
    ----------
    saw : mapping
        ``key``, ``plain_copy_runs``, ``telltale``, ``fuse_label``, ``ring_at_lock``,
        ``two_thin_wires_at_lock``, each with one of its answers.
    sister_cars : sequence of str
        Kinds that the records of cars of the same make, model and years say.

    Raises
    ------
    RecordError
        A question or an answer that is none.
    """
    weights = [log(p) for p in _PRIOR]
    evidence: list[str] = []
    for asked, answer in saw.items():
        if asked not in _ASKED:
            raise RecordError(
                f"{asked!r} is no evidence", "immobilizer", f"one of: {', '.join(_ASKED)}"
            )
        if answer not in _ASKED[asked]:
            raise RecordError(
                f"{answer!r}", f"immobilizer.{asked}", f"one of: {', '.join(_ASKED[asked])}"
            )
        weights = [w + log(p) for w, p in zip(weights, _ASKED[asked][answer], strict=True)]
        evidence.append(f"{asked.replace('_', ' ')}: {answer.replace('_', ' ')}")
    for kind in sister_cars[:5]:
        if kind == "unknown":
            continue
        if kind not in KINDS:
            raise RecordError(f"{kind!r}", "sister_cars", f"one of: {', '.join(KINDS)}")
        # trims of one model differ in just this, so a sister counts half
        weights = [
            w + 0.5 * log(0.76 if k == kind else 0.06) for w, k in zip(weights, KINDS, strict=True)
        ]
        evidence.append(f"a sister car has {kind.replace('_', ' ')}")
    if saw.get("key") == "plain_metal" and saw.get("plain_copy_runs") == "yes":
        evidence.append("a plain metal key runs the engine: none fitted (common practice)")
    most = max(weights)
    total = sum(exp(w - most) for w in weights)
    probability = [exp(w - most) / total for w in weights]
    looks = sorted(
        (
            Look(
                look=_LOOK[asked][0],
                asks=asked,
                gain_bits=round(_gain(probability, asked), 4),
                seconds=_LOOK[asked][1],
            )
            for asked in _ASKED
            if asked not in saw
        ),
        key=lambda one: -one.gain_bits / one.seconds,
    )
    top = max(probability)
    best = probability.index(top)
    none = probability[0]
    fitted = None
    if none >= CERTAIN:
        fitted = False
    elif none <= 1 - CERTAIN:
        fitted = True
    sure = top >= CERTAIN
    return ImmobilizerVerdict(
        kind=KINDS[best] if sure else "unknown",
        fitted=fitted,
        probability=round(top, 4),
        probabilities={k: round(p, 4) for k, p in zip(KINDS, probability, strict=True)},
        evidence=evidence,
        next_look=[] if sure else [one for one in looks if one.gain_bits > 0.01],
    )


def _gain(probability: Sequence[float], asked: str) -> float:
    """Expected information of one question, in bits."""
    answers = list(_ASKED[asked].values())
    totals = [sum(column) for column in zip(*answers, strict=True)]
    gain = _entropy(probability)
    for answer in answers:
        joint = [a / t * p for a, t, p in zip(answer, totals, probability, strict=True)]
        chance = sum(joint)
        gain -= chance * _entropy([p / max(chance, 1e-12) for p in joint])
    return gain


def _entropy(probability: Sequence[float]) -> float:
    return -sum(p * log2(max(p, 1e-12)) for p in probability)
