"""Evidence for and against an immobilizer."""

from __future__ import annotations

import pytest

from startwright.identify import weigh_immobilizer
from startwright.records import RecordError


def test_a_plain_metal_key_that_starts_the_car_is_enough() -> None:
    verdict = weigh_immobilizer({"key": "plain_metal"})
    assert verdict.fitted is False
    assert verdict.kind == "none"


def test_a_plain_metal_key_that_starts_the_car_means_none() -> None:
    verdict = weigh_immobilizer({"key": "plain_metal", "plain_copy_runs": "yes"})
    assert verdict.kind == "none"
    assert verdict.fitted is False
    assert verdict.probability > 0.95
    assert verdict.next_look == []


def test_a_pellet_in_the_blade_is_a_resistor_key() -> None:
    verdict = weigh_immobilizer({"key": "metal_with_pellet"})
    assert verdict.kind == "resistor_key"
    assert verdict.fitted is True


def test_a_copy_that_starts_and_stalls_means_one_is_fitted() -> None:
    verdict = weigh_immobilizer({"key": "plastic_head", "plain_copy_runs": "starts_and_stalls"})
    assert verdict.fitted is True
    assert verdict.kind in ("transponder", "unknown")


def test_nothing_seen_is_not_known_and_says_where_to_look() -> None:
    verdict = weigh_immobilizer({})
    assert verdict.kind == "unknown"
    assert verdict.fitted is None
    assert verdict.next_look[0].asks == "key"
    rates = [n.gain_bits / n.seconds for n in verdict.next_look]
    assert rates == sorted(rates, reverse=True)


def test_a_ring_at_the_lock_and_sisters_add_up() -> None:
    alone = weigh_immobilizer({"key": "plastic_head"}).probabilities["transponder"]
    ring = weigh_immobilizer({"key": "plastic_head", "ring_at_lock": "yes"})
    sisters = weigh_immobilizer({"key": "plastic_head"}, ["transponder", "unknown", "transponder"])
    assert ring.probabilities["transponder"] > alone
    assert sisters.probabilities["transponder"] > alone
    assert sum(ring.probabilities.values()) == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("saw", [{"smell": "burnt"}, {"key": "wooden"}])
def test_evidence_that_is_none(saw: dict[str, str]) -> None:
    with pytest.raises(RecordError, match="expected one of"):
        weigh_immobilizer(saw)
    with pytest.raises(RecordError):
        weigh_immobilizer({}, ["magic"])
