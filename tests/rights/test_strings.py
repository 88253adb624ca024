"""No page, file, count or message holds a word that belongs to somebody else.

Every word of the world is marked with whose it is; what a viewer may see is listed here.
"""

import re
from collections.abc import Callable, Iterator

import pytest
from werkzeug.test import TestResponse

from portfolio.domain.rights import Role
from tests.rights import table
from tests.rights.conftest import Looking
from tests.rights.test_routes import cases
from tests.rights.world import VIEWERS, World, canary

Told = Callable[[TestResponse], str]
_MARKED = re.compile(r"CANARY-[A-Z0-9-]+…?", re.IGNORECASE)
# tests of the keeper: who holds them, two in full, one by its reference; those whose sponsor was
# asked, refused, or gave a consent that ran out not at all
_EVIDENCE = (
    r"CANARY-KEEPER-(NAME|PUBLISHED-.*|EVERYTHING-.*)",
    r"CANARY-KEEPER-REFERENCE-REF",
    # who added a document to a test of the own organisation is told where the document is
    r"CANARY-KEEPER-PERSON-ENGINEER",
)
# what a consultancy added to an owner's building for whoever may see it
_ADDED = r"CANARY-RIVAL-EDIT-(FILE|PAPER|CONTENT)"
MAY_SEE: dict[str, tuple[str, ...]] = {
    # whoever worked on an owner's building is known to its owner
    "north": (
        r"CANARY-NORTH-.*",
        r"CANARY-RIVAL-(NAME|PERSON-ENGINEER)",
        r"CANARY-(RIVAL|CONSULT)-ORGREF",
        _ADDED,
        *_EVIDENCE,
    ),
    "consult": (
        r"CANARY-CONSULT-.*",
        r"CANARY-HELPER-ORGREF",
        _ADDED,
        r"CANARY-NORTH-(READ|EDIT)-.*",
        r"CANARY-NORTH-(NAME|ORGREF|PERSON-ENGINEER)",
        # the rule by which an answer for an open zone was allowed, and who answers for it
        r"CANARY-NORTH-RULE-(KEY|TITLE|AUTHOR|DOCUMENT|CLAUSE)",
        # the owner's own report, by its reference: its zones lean on it
        r"CANARY-NORTH-TEST-REF",
        *_EVIDENCE,
    ),
    "lab": (r"CANARY-LAB-.*", r"CANARY-HELPER-ORGREF", *_EVIDENCE),
}
# an administrator shares with these, and so reads which there are
_PARTNERS = r"CANARY-(CONSULT|RIVAL|HELPER|LAB|LAB2)-(NAME|ORGREF)"
_LISTS = (
    "/",
    "/buildings",
    "/gaps",
    "/evidence",
    "/demand",
    "/documents",
    "/works",
    "/works/figures",
    "/calendar",
    "/log",
    "/sharing",
    "/people",
)
_FILES = (
    "/buildings",
    "/gaps",
    "/evidence",
    "/demand",
    "/documents",
    "/certificates",
    "/rules",
    "/orders",
    "/works",
    "/works/figures",
    "/log",
)
# each looks for a piece of a word that is somebody else's, without holding a whole one
_SEARCHES = (
    "/buildings?text=anary-sou",
    "/buildings?text=north-hid",
    "/works?text=anary-sou",
    "/works?text=north-hid",
    "/gaps?text=anary-sou",
    "/gaps?text=north-hid&coverage=all",
    "/gaps?coverage=all&format=xlsx",
    "/evidence?text=keeper-ref",
    "/evidence?text=-title",
    "/evidence?text=keeper-run",
    "/evidence?text=keeper-ask&format=csv",
    "/evidence?sort=tested_on&format=csv",
    "/evidence?sort=leaning&format=csv",
    "/evidence?leaning=nearest&format=csv",
    "/documents?text=north-kept",
    "/documents?text=anary-sou&format=csv",
    "/documents?supports=survey&format=xlsx",
    "/certificates?text=anary-sou",
    "/log?actor=anary-riv",
    "/log?actor=anary-sou",
    "/gaps?owner=nobody",
    "/gaps?sort=nothing",
    "/find-out?format=csv",
    "/find-out/zones?parameter=insulation.1.thickness&way=settling",
    "/find-out/zones?parameter=insulation.1.thickness&way=settling&format=csv",
    "/find-out/zones?parameter=cavity.1.depth&way=nothing",
)


def foreign(looking: Looking, text: str, who: str, *more: str) -> set[str]:
    """The marked words of a text that a viewer may not see, with those that a drawing cut."""
    allowed = re.compile("|".join((*MAY_SEE[who], *more)), re.IGNORECASE)
    found = {word.upper() for word in _MARKED.findall(text)}
    cut = tuple(word.removesuffix("…") for word in found if word.endswith("…"))
    meant = {word for word in looking.words if cut and word.startswith(cut)}
    whole = {word for word in found if not word.endswith("…")}
    return {word for word in whole | meant if not allowed.fullmatch(word.rstrip("-"))}


def _pages(looking: Looking, who: str) -> Iterator[str]:
    rows = [row for rows in table.TABLES for row in rows]
    for named in (named for row in rows for named in row.endpoints if named.startswith("GET")):
        if named != "GET uploads.template":
            yield from (case.address for case in cases(looking, who, named))


def _downloads(world: World, who: str) -> Iterator[str]:
    yield from (f"{page}?format={kind}" for page in _FILES for kind in ("xlsx", "csv"))
    for zone in world.zones.values():
        yield f"/zones/{zone}?all=1"
        yield f"/zones/{zone}?format=xlsx"
        yield from (f"/zones/{zone}?test={test}" for test in world.tests.values())
    for key in set(world.walls.values()):
        yield f"/demand/{key}?format=xlsx"
        yield f"/demand/{key}?format=csv&table=zones"


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("who", VIEWERS)
def test_no_page_holds_a_word_of_somebody_else(
    looking: Looking, told: Told, who: str, role: Role
) -> None:
    partners = (_PARTNERS,) if role is Role.ADMINISTRATOR else ()
    found = {
        page: words
        for page in dict.fromkeys((*_LISTS, *_SEARCHES, *_pages(looking, who)))
        if (words := foreign(looking, _text(looking, told, who, role, page), who, *partners))
    }
    assert found == {}


@pytest.mark.parametrize("who", VIEWERS)
def test_no_file_holds_a_word_of_somebody_else(looking: Looking, told: Told, who: str) -> None:
    found = {
        page: words
        for page in _downloads(looking.world, who)
        if (words := foreign(looking, _text(looking, told, who, Role.ENGINEER, page), who))
    }
    assert found == {}


def _text(looking: Looking, told: Told, who: str, role: Role, page: str) -> str:
    answer = looking.ask((who, role), "GET", page)
    assert answer.status_code < 500, page
    return told(answer)


@pytest.mark.parametrize("who", VIEWERS)
def test_the_search_for_foreign_words_sees_them_where_they_are(
    looking: Looking, told: Told, who: str
) -> None:
    page = f"/buildings/{looking.world.buildings['south', 'home']}/pack.xlsx"
    text = told(looking.ask(("south", Role.READER), "GET", page))
    assert canary("south", "home", "product") in text
    assert canary("south", "home", "product") in foreign(looking, text, who)


@pytest.mark.parametrize("who", VIEWERS)
def test_a_viewer_sees_the_own_words_on_the_pages_that_are_searched(
    looking: Looking, told: Told, who: str
) -> None:
    own = canary(who, "hidden" if who == "north" else "home", "ref")
    assert own in _text(looking, told, who, Role.READER, "/buildings?format=csv")


def test_counts_are_of_what_the_viewer_sees(looking: Looking, told: Told) -> None:
    """North has six buildings; the consultancy its own and two that are open to it."""
    listed = {
        who: _text(looking, told, who, Role.READER, "/buildings?format=csv").count("\n") - 1
        for who in VIEWERS
    }
    assert listed == {"north": 6, "consult": 3, "lab": 1}


def test_what_is_shown_by_reference_is_neither_found_nor_placed_by_more(
    looking: Looking, told: Told
) -> None:
    for text in ("keeper-reference-title", "keeper-runout-title", "keeper-asked-title"):
        page = f"/evidence?text={text}&format=csv"
        assert _text(looking, told, "north", Role.READER, page).count("\n") == 1, text
    shown = _text(looking, told, "north", Role.READER, "/evidence?text=everything-title&format=csv")
    assert canary("keeper", "everything", "ref") in shown
