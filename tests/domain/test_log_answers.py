"""What a log answers of its test's record; what it cannot tell it does not answer."""

from collections.abc import Sequence

import pytest

from portfolio.domain.evidence import Answer3
from portfolio.domain.log_answers import LogAnswer, answers_of
from portfolio.domain.observations import Observation, Sight
from portfolio.domain.traces import Log
from tests.domain.invented_log import NOTHING_SEEN, classified, make_log, stretch

MET, NOT_MET = Answer3.MET, Answer3.NOT_MET
FLAMES_AND_BURN = tuple(one for one in NOTHING_SEEN if one.sight is not Sight.EARLY_END)


def answers(
    log: Log, seen: Sequence[Observation] = NOTHING_SEEN, *, letter: str = "B"
) -> dict[str, LogAnswer]:
    return {one.field: one for one in answers_of(classified(log, seen, letter=letter), log)}


def values(
    log: Log, seen: Sequence[Observation] = NOTHING_SEEN, *, letter: str = "B"
) -> list[object]:
    return [one.value for one in answers(log, seen, letter=letter).values()]


def test_a_quiet_test_answers_every_field() -> None:
    # external, internal, burn-through, flames, early end, and an hour of log
    assert values(make_log()) == [MET, MET, MET, MET, MET, 3600]


def test_an_exceedance_on_one_channel_is_not_met() -> None:
    found = answers(make_log({"L2 main": stretch(700.0, 500, 600)}))
    assert found["external_spread"].value is NOT_MET
    assert found["internal_spread"].value is MET


def test_what_nobody_wrote_about_is_not_told() -> None:
    found = answers(make_log(), ())
    assert [found[field].value for field in ("no_flames_above_rig", "no_early_end")] == [None, None]
    assert found["no_early_end"].reason == "nobody wrote whether it was seen"
    # nor is the end of the log known to be the end of the test
    assert found["run_seconds"].value is None


def test_an_annex_that_does_not_ask_for_burn_through_does_not_answer_it() -> None:
    found = answers(make_log(), letter="A")["burn_through"]
    assert found.value is None
    assert "does not ask for it" in found.reason


@pytest.mark.parametrize(
    ("times", "seconds"), [((1505.5,), 1505), ((1700.0, 1505.0), 1505), ((None,), None)]
)
def test_a_test_that_was_ended_early_ran_until_then(
    times: tuple[float | None, ...], seconds: int | None
) -> None:
    ended = [Observation(Sight.EARLY_END, was_seen=True, from_s=at) for at in times]
    found = answers(make_log(), [*FLAMES_AND_BURN, *ended])
    assert (found["no_early_end"].value, found["run_seconds"].value) == (NOT_MET, seconds)


def test_a_log_that_ends_before_its_fire_does_not_tell_how_long_the_test_ran() -> None:
    assert values(make_log(until=1500.0))[4:] == [None, None]


def test_without_ignition_only_what_was_seen_is_answered() -> None:
    log = make_log()
    found = values(Log(log.times_s, log.channels))
    assert found == [None, None, MET, MET, MET, None]
