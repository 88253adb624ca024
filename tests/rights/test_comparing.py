"""A comparison shows no more of a zone or a test than their own pages do."""

from collections.abc import Callable, Iterator
from itertools import combinations, product

import pytest
from werkzeug.test import TestResponse

from portfolio.domain.rights import Role
from tests.rights import table
from tests.rights.conftest import Looking
from tests.rights.test_routes import _comparable, expected
from tests.rights.test_strings import foreign
from tests.rights.world import MISSING, VIEWERS, canary

OUTCOMES = {200: "done", 404: "not there"}
# what a test is to each of those who look, besides their own one
KEPT = {
    "published": table.OF_TESTS[0].published,
    "everything": table.OF_TESTS[0].everything,
    "reference": table.OF_TESTS[0].reference,
    "asked": table.OF_TESTS[0].asked,
    "refused": table.OF_TESTS[0].asked,
    "runout": table.OF_TESTS[0].asked,
    "none": table.OF_TESTS[0].foreign,
}


def _address(left: str, right: str) -> str:
    return f"/compare?left={left}&right={right}"


def _own_zone(looking: Looking, who: str) -> str:
    return f"zone-{looking.world.zones[who, 'hidden' if who == 'north' else 'home']}"


def _own_test(looking: Looking, who: str) -> str:
    return f"test-{looking.world.tests[who, 'test']}"


@pytest.mark.parametrize("who", VIEWERS)
@pytest.mark.parametrize("state", KEPT)
def test_a_test_is_compared_with_by_those_who_see_it(
    looking: Looking, who: str, state: str
) -> None:
    kept = f"test-{looking.world.tests['keeper', state]}"
    for own in (_own_zone(looking, who), _own_test(looking, who)):
        for address in (_address(own, kept), _address(kept, own)):
            for role in Role:
                answer = looking.ask((who, role), "GET", address)
                found = OUTCOMES[answer.status_code]
                assert found == expected(KEPT[state], role), (address, role)


@pytest.mark.parametrize("who", VIEWERS)
def test_what_is_hidden_answers_byte_for_byte_like_what_is_not_there(
    looking: Looking, who: str
) -> None:
    """Also a reference that is typed, but for the words that were typed."""
    world, reader = looking.world, (who, Role.ADMINISTRATOR)
    zone, test = f"zone-{world.zones['south', 'home']}", f"test-{world.tests['keeper', 'asked']}"
    own = _own_zone(looking, who), _own_test(looking, who)
    for mine, (hidden, missing) in product(
        own, ((zone, f"zone-{MISSING}"), (test, f"test-{MISSING}"))
    ):
        for address in ((mine, hidden), (hidden, mine)):
            gone = tuple(missing if one == hidden else one for one in address)
            answers = [
                _comparable(looking.ask(reader, "GET", _address(*pair)))
                for pair in (address, (gone[0], gone[1]))
            ]
            assert answers[0] == answers[1]
            assert answers[0][0] == 404
    typed = f"{canary('south', 'home', 'ref')}/{canary('south', 'home', 'zone')}"
    for mine, there in product(own, (typed, canary("keeper", "asked", "ref"))):
        told = [
            looking.ask(reader, "GET", f"/compare?left={mine}&with={name}")
            for name in (there, there.replace("CANARY", "NOTHING"))
        ]
        texts = [_comparable(answer) for answer in told]
        assert texts[0][0] == texts[1][0] == 404
        assert texts[0][1].replace(there, there.replace("CANARY", "NOTHING")) == texts[1][1]


def _pairs(looking: Looking) -> Iterator[str]:
    world = looking.world
    zones = [f"zone-{number}" for number in world.zones.values()]
    tests = [f"test-{number}" for number in world.tests.values()]
    for left, right in (*combinations(zones, 2), *product(zones, tests), *combinations(tests, 2)):
        yield _address(left, right)


@pytest.mark.parametrize("who", VIEWERS)
def test_no_comparison_holds_a_word_of_somebody_else(
    looking: Looking, told: Callable[[TestResponse], str], who: str
) -> None:
    found = {}
    shown = 0
    for address in _pairs(looking):
        answer = looking.ask((who, Role.ENGINEER), "GET", address)
        shown += answer.status_code == 200
        if words := foreign(looking, told(answer), who):
            found[address] = words
    assert found == {}
    # the own zone beside the own test and three of the keeper, and each pair of those tests
    assert shown >= 10


@pytest.mark.parametrize("who", VIEWERS)
def test_a_typed_reference_beside_a_zone_of_somebody_else_finds_nothing(
    looking: Looking, who: str
) -> None:
    """Not even whether there is a test of that reference."""
    left = f"zone-{looking.world.zones['south', 'home']}"
    told = []
    for name in (canary("keeper", "published", "ref"), "NOTHING"):
        answer = looking.ask((who, Role.READER), "GET", f"/compare?left={left}&with={name}")
        status, text, headers = _comparable(answer)
        told.append((status, text.replace(name, ""), headers))
    assert told[0] == told[1]
    assert told[0][0] == 404


@pytest.mark.parametrize("who", VIEWERS)
@pytest.mark.parametrize("form", ["", "json", "csv", "xlsx"])
def test_no_line_is_told_where_only_the_reference_may_be_shown(
    looking: Looking, told: Callable[[TestResponse], str], who: str, form: str
) -> None:
    kept = f"test-{looking.world.tests['keeper', 'reference']}"
    whole = f"test-{looking.world.tests['keeper', 'everything']}"
    for own in (_own_zone(looking, who), _own_test(looking, who), whole):
        for pair in ((own, kept), (kept, own)):
            address = f"{_address(*pair)}&format={form}"
            text = told(looking.ask((who, Role.READER), "GET", address))
            assert "the walls are not compared line by line" in text, address
            assert "insulation" not in text
            # the depth of the tested cavity
            assert "53.25" not in text
            assert foreign(looking, text, who) == set()
