"""What a case cost and how long the search took, with answers worked out by hand at 60 USD an hour."""

from __future__ import annotations

import pytest

from leaklore.analysis import costs

from .builders import COMPANY, case, guide, step


def test_minutes_to_find_count_everything_up_to_the_spot() -> None:
    """Clean steps before it count, what comes after does not."""
    found = case(
        1,
        step("visual", "cabinet", "clean", 5),
        step("detector", "cabinet", "lead", 12),
        step("bubbles", "flare", "pinpointed", 8),
        step("detector", "flare", "confirmed", 30),
    )
    assert costs.minutes_to_find(found) == 25


def test_a_confirmation_counts_as_found_where_no_step_pinpointed() -> None:
    """The first of pinpointed and confirmed."""
    found = case(1, step("detector", "cabinet", "lead", 12), step("bubbles", "flare", "confirmed", 8))
    assert costs.minutes_to_find(found) == 20


def test_pinpointing_another_part_is_not_finding_the_cause() -> None:
    """A second leak found first does not stop the clock."""
    found = case(
        1,
        step("bubbles", "port", "pinpointed", 7),
        step("bubbles", "flare coil", "pinpointed", 8),
    )
    assert costs.minutes_to_find(found) == 15


@pytest.mark.parametrize("result", ["clean", "lead", "section", "false-alarm"])
def test_never_pinpointed_is_not_known(result: str) -> None:
    """A lead is no spot, even at the part itself; so is an area that holds it."""
    assert costs.minutes_to_find(case(1, step("detector", "flare", result))) is None  # type: ignore[arg-type]
    assert costs.minutes_to_find(case(1, step("detector", "cabinet", "pinpointed"))) is None
    assert costs.minutes_to_find(case(1)) is None


def test_a_find_in_no_time_is_zero_and_not_unknown() -> None:
    """0 minutes is a number."""
    assert costs.minutes_to_find(case(1, step("visual", "flare", "pinpointed", 0))) == 0


def test_step_cost_is_time_and_material() -> None:
    """90 min at 60 an hour and 12.50 for gas."""
    for paid, gas in ((90.0, None), (102.5, "12.50 USD")):
        worked = step("bubbles", "flare", "clean", 90, gas)
        assert costs.step_cost(worked, COMPANY, guide()) == pytest.approx(paid)


def test_search_cost_is_the_sum_of_all_steps() -> None:
    """Steps after the find are paid too."""
    whole = case(
        1,
        step("visual", "cabinet", "clean", 15),
        step("bubbles", "flare", "pinpointed", 30, "4 USD"),
        step("detector", "flare", "confirmed", 15),
    )
    assert costs.search_cost(whole, COMPANY, guide()) == pytest.approx(64.0)
    assert costs.search_cost(case(2), COMPANY, guide()) == 0


def test_repair_cost_leaves_the_search_out() -> None:
    """20 of parts and 90 minutes at 60 an hour, whatever the search took."""
    whole = case(1, step("bubbles", "flare", "pinpointed", 600), parts="20 USD", labour="1.5 h")
    assert costs.repair_cost(whole, COMPANY) == pytest.approx(110.0)


def test_repair_cost_of_one_half_is_told_and_of_none_is_not_known() -> None:
    """Only parts, only labour, neither, no repair."""
    assert costs.repair_cost(case(1, parts="20 USD"), COMPANY) == pytest.approx(20.0)
    assert costs.repair_cost(case(1, labour="30 min"), COMPANY) == pytest.approx(30.0)
    assert costs.repair_cost(case(1, parts="0 USD"), COMPANY) == 0
    assert costs.repair_cost(case(1), COMPANY) is None
