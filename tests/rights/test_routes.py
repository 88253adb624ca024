"""Every page and act, for every role, kind of organisation and state of what it is about."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from portfolio.domain.rights import Role
from tests.rights import table
from tests.rights.conftest import Looking
from tests.rights.world import MISSING, VIEWERS, World, canary

LETTERS = {Role.READER: "R", Role.EDITOR: "E", Role.ENGINEER: "G", Role.ADMINISTRATOR: "A"}
DONE, REFUSED, HIDDEN = "done", "not for this role", "not there"
# a form that is refused because it is empty, or overtaken, was let through
_OUTCOMES = {200: DONE, 302: DONE, 400: DONE, 409: DONE, 403: REFUSED, 404: HIDDEN}
_TOKEN = re.compile(r'name="csrf_token"[^>]*value="[^"]*"')
_DAY = "2026-02-15"
_UNKNOWN_UPLOAD = "0" * 48


@dataclass(frozen=True)
class Case:
    """One request about one thing, and the cell of the table that speaks of it."""

    state: str
    address: str
    cell: str


def expected(cell: str, role: Role) -> str:
    """What a cell says of a role: "A: hidden" hides from A and refuses the others."""
    if cell == table.HIDDEN:
        return HIDDEN
    letters, _, otherwise = cell.partition(": ")
    if LETTERS[role] not in letters.split():
        return REFUSED
    return HIDDEN if otherwise == table.HIDDEN else DONE


# --- where things are --------------------------------------------------------------------------


def _of_building(endpoint: str, building: int, zone: int) -> str:
    return {
        "building.show": f"/buildings/{building}",
        "building.pack": f"/buildings/{building}/pack.xlsx",
        "looking_back.show": f"/buildings/{building}/as-of?day={_DAY}",
        "looking_back.pack": f"/buildings/{building}/as-of/pack.xlsx?day={_DAY}",
        "building.edit": f"/buildings/{building}/edit",
        "documents.missing": f"/buildings/{building}/missing-documents",
        "documents_adding.to_building": f"/buildings/{building}/documents/new",
        "documents_adding.to_zone": f"/zones/{zone}/documents/new",
        "zone.new": f"/buildings/{building}/zones/new",
        "zone.show": f"/zones/{zone}",
        # of tests, and of a zone beside one, test_comparing asks
        "comparing.show": f"/compare?left=zone-{zone}&right=zone-{zone}",
        "zone.edit": f"/zones/{zone}/edit",
        "zone.survey": f"/zones/{zone}/surveys/new",
        # what was re-opened bears the number of its zone in this world
        "to_look_at.look": f"/reopened/{zone}/looked-at",
        # and so does the decision on it
        "ruling.confirm": f"/decisions/{zone}/confirm",
        # works and measures bear the number of their zone in this world
        "works.of_building": f"/buildings/{building}/works",
        "works_editing.new": f"/buildings/{building}/works/new",
        "works_editing.edit": f"/works/{zone}/edit",
        "works_editing.step": f"/works/{zone}/status",
        "works_editing.new_interim": f"/works/{zone}/interim/new",
        "works_editing.edit_interim": f"/works/interim/{zone}/edit",
        "ruling.decide": f"/zones/{zone}/decisions/new",
        "ruling.settle_conflict": f"/zones/{zone}/settle/insulation.1.thickness",
    }[endpoint]


def _of_test(world: World, endpoint: str, test: int) -> str:
    return {
        "evidence.show": f"/tests/{test}",
        "evidence.edit": f"/tests/{test}/edit",
        "consents.index": f"/tests/{test}/consents",
        "consents.remove": f"/tests/{test}/consents/{world.consents.get(test, MISSING)}/take-back",
        "standing.change": f"/tests/{test}/standing",
        "outcome.settle": f"/tests/{test}/outcome",
        "kept_log.take": f"/documents/{world.logs.get(test, MISSING)}/log/tests/{test}",
        "documents_adding.to_test": f"/tests/{test}/documents/new",
    }[endpoint]


def _of_document(world: World, endpoint: str, thing: tuple[str, str] | None) -> str:
    document, support = world.documents[thing] if thing else (MISSING, MISSING)
    return {
        "documents.show": f"/documents/{document}",
        "kept_log.show": f"/documents/{document}/log",
        "kept_log.reading": f"/documents/{document}/log/reading",
        "documents.file": f"/documents/{document}/file",
        "documents.detach": f"/documents/supports/{support}/detach",
    }[endpoint]


def _of_organisation(looking: Looking, endpoint: str, whose: str) -> str:
    world = looking.world
    missing = whose == "missing"
    person = MISSING if missing else world.people[whose]
    if endpoint == "demand.group":
        keys = {"missing": "f" * 16, "south": world.walls["south", "home"]}
        return f"/demand/{keys.get(whose, world.walls['north', 'read'])}"
    if endpoint == "sharing.preview_group":
        building = "hidden" if whose == "north" else "home"
        key = "f" * 16 if missing else world.walls[whose, building]
        return f"/sharing/preview/{canary('lab', 'orgref')}/{key}"
    if endpoint.startswith("uploads."):
        token = _UNKNOWN_UPLOAD if missing else looking.upload_of(whose)
        return f"/upload/{token}" + ("/forget" if endpoint == "uploads.forget" else "")
    paper = world.certificates.get(whose, MISSING)
    rule = world.rules.get(whose, MISSING)
    order = world.orders.get(whose, MISSING)
    return {
        "calendars.withdraw": f"/calendar/{world.calendars.get(whose, MISSING)}/withdraw",
        "certificates.show": f"/certificates/{paper}",
        "certificates.edit": f"/certificates/{paper}/edit",
        "orders.show": f"/orders/{order}",
        "orders.replace": f"/orders/{order}/replace",
        "rules.show": f"/rules/{rule}",
        "rules.replace": f"/rules/{rule}/replace",
        "documents_adding.to_certificate": f"/certificates/{paper}/documents/new",
        "people.set_role": f"/people/{person}/role",
        "people.deactivate": f"/people/{person}/deactivate",
        "people.reactivate": f"/people/{person}/reactivate",
        "people.new_link": f"/people/{person}/link",
        "people.withdraw": f"/people/invitations/{world.invitations.get(whose, MISSING)}/withdraw",
        "sharing.take_back": f"/sharing/buildings/{world.grants.get(whose, MISSING)}/take-back",
        "sharing.stop_sharing_demand": f"/sharing/demand/{world.shares.get(whose, MISSING)}/stop",
    }[endpoint]


def _without_thing(endpoint: str) -> str:
    return {
        "overview.index": "/",
        "buildings_list.index": "/buildings",
        "gaps.index": "/gaps",
        "find_out.index": "/find-out",
        "find_out.zones": "/find-out/zones?parameter=cavity.1.depth&way=papers",
        "progress.index": "/progress",
        "evidence.index": "/evidence",
        "to_look_at.index": "/reopened",
        "ruling.index": "/decisions?state=all",
        "demand.index": "/demand",
        "documents.index": "/documents",
        "certificates.index": "/certificates",
        "certificates.new": "/certificates/new",
        "orders.index": "/orders",
        "orders.shipped": "/orders/shipped/house",
        "orders.new": "/orders/new",
        "rules.index": "/rules",
        "works.index": "/works",
        "works.release": "/works/figures",
        "calendars.index": "/calendar",
        "calendars.make": "/calendar",
        "rules.new": "/rules/new",
        "log.index": "/log",
        "classify.index": "/classify",
        "classify.judge": "/classify",
        "account.show": "/account",
        "account.sign_out_everywhere": "/account/sign-out-everywhere",
        "signing_in.sign_out": "/sign-out",
        "uploads.template": "/template.xlsx",
        "building.new": "/buildings/new",
        "evidence.new": "/tests/new",
        "uploads.index": "/upload",
        "uploads.hand_in": "/upload",
        "sharing.index": "/sharing",
        "people.index": "/people",
        "people.invite": "/people/invite",
        "sharing.new": "/sharing/buildings",
        "sharing.share_demand": "/sharing/demand",
        "sharing.preview": f"/sharing/preview/{canary('lab', 'orgref')}",
        "sharing.take_all_back": f"/sharing/consultancies/{canary('rival', 'orgref')}/take-back",
    }[endpoint]


# --- the cases of one page or act ----------------------------------------------------------------


def cases(looking: Looking, who: str, named: str) -> Iterator[Case]:
    """Every state of what a page is about, for the people of one organisation."""
    endpoint = named.partition(" ")[2]
    for of_building in table.OF_BUILDINGS:
        if named in of_building.endpoints:
            yield from _building_cases(looking.world, who, endpoint, of_building)
    for of_test in table.OF_TESTS:
        if named in of_test.endpoints:
            yield from _test_cases(looking.world, who, endpoint, of_test)
    for of_document in table.OF_DOCUMENTS:
        if named in of_document.endpoints:
            yield from _document_cases(looking.world, who, endpoint, of_document)
    for of_organisation in table.OF_ORGANISATIONS:
        if named in of_organisation.endpoints:
            for state, whose in (("own", who), ("foreign", "south"), ("missing", "missing")):
                cell = of_organisation.own if state == "own" else of_organisation.foreign
                address = _of_organisation(looking, endpoint, whose)
                yield Case(state, address, cell)
    for page in table.WITHOUT_THING:
        if named in page.endpoints:
            kind = {"north": "owner", "consult": "consultancy", "lab": "laboratory"}[who]
            yield Case("none", _without_thing(endpoint), getattr(page, kind))


def _building_cases(
    world: World, who: str, endpoint: str, row: table.OfBuildings
) -> Iterator[Case]:
    things = {"own": (who, "hidden" if who == "north" else "home"), "foreign": ("south", "home")}
    cells = {"own": row.own, "foreign": row.foreign}
    if who == "consult":
        things |= {name: ("north", name) for name in ("read", "edit", "taken", "over", "early")}
        things["never opened"] = ("north", "hidden")
        cells |= {"read": row.read, "edit": row.edit, "never opened": row.foreign}
        cells |= dict.fromkeys(("taken", "over", "early"), row.ended)
    for state, thing in things.items():
        address = _of_building(endpoint, world.buildings[thing], world.zones[thing])
        yield Case(state, address, cells[state])
    yield Case("missing", _of_building(endpoint, MISSING, MISSING), row.foreign)


def _test_cases(world: World, who: str, endpoint: str, row: table.OfTests) -> Iterator[Case]:
    cells = {
        "published": row.published,
        "everything": row.everything,
        "reference": row.reference,
        "none": row.foreign,
    }
    cells |= dict.fromkeys(("asked", "refused", "runout"), row.asked)
    for state, cell in cells.items():
        yield Case(state, _of_test(world, endpoint, world.tests["keeper", state]), cell)
    yield Case("own", _of_test(world, endpoint, world.tests[who, "test"]), row.own)
    foreign = "consult" if who == "lab" else "lab"
    yield Case("foreign", _of_test(world, endpoint, world.tests[foreign, "test"]), row.foreign)
    yield Case("missing", _of_test(world, endpoint, MISSING), row.foreign)


def _document_cases(
    world: World, who: str, endpoint: str, row: table.OfDocuments
) -> Iterator[Case]:
    cells: dict[str, tuple[tuple[str, str] | None, str]] = {
        "own": ((who, "edit" if who == "north" else "home"), row.own),
        "foreign": (("south", "home"), row.foreign),
        "missing": (None, row.foreign),
    }
    if who == "consult":
        cells |= {"read": (("north", "read"), row.read), "edit": (("north", "edit"), row.edit)}
        cells |= {name: (("north", name), row.kept) for name in ("kept", "taken", "over", "early")}
        cells |= {"of a further consultancy": (("rival", "edit"), row.edit)}
    for state, (thing, cell) in cells.items():
        yield Case(state, _of_document(world, endpoint, thing), cell)


def _named_in_table() -> list[str]:
    return [named for rows in table.TABLES for row in rows for named in row.endpoints]


def _named_in_app(looking: Looking) -> list[str]:
    return [
        f"{method} {rule.endpoint}"
        for rule in looking.app.url_map.iter_rules()
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"})
    ]


# --- claims --------------------------------------------------------------------------------------


def test_every_page_and_act_stands_in_the_table_once(looking: Looking) -> None:
    assert sorted([*_named_in_table(), *table.PUBLIC]) == sorted(_named_in_app(looking))


@pytest.mark.parametrize("who", VIEWERS)
@pytest.mark.parametrize("named", _named_in_table())
def test_a_page_or_act_does_for_each_role_what_the_table_says(
    looking: Looking, named: str, who: str
) -> None:
    method = named.partition(" ")[0]
    wrong = []
    for role in Role:
        for case in cases(looking, who, named):
            answer = looking.ask((who, role), method, case.address, role="reader")
            found = _OUTCOMES.get(answer.status_code, f"status {answer.status_code}")
            if found != expected(case.cell, role):
                wrong.append(
                    f"{role.value}, {case.state}: {found}, not {expected(case.cell, role)}"
                )
    assert wrong == []


@pytest.mark.parametrize("who", VIEWERS)
@pytest.mark.parametrize("named", _named_in_table())
def test_what_is_hidden_answers_byte_for_byte_like_what_is_not_there(
    looking: Looking, named: str, who: str
) -> None:
    method, answers = named.partition(" ")[0], {}
    for case in cases(looking, who, named):
        if case.cell.endswith(table.HIDDEN):
            answer = looking.ask((who, Role.ADMINISTRATOR), method, case.address, role="reader")
            answers[case.state] = _comparable(answer)
    assert {state: found for state, found in answers.items() if found != answers["missing"]} == {}


def _comparable(answer: Any) -> tuple[int, str, list[tuple[str, str]]]:
    """Status, body without the forms' marks, and headers without those that vary with time."""
    headers = [(k, v) for k, v in answer.headers if k not in ("Date", "Set-Cookie")]
    body = _TOKEN.sub("", answer.text)
    return answer.status_code, body, [(k, v) for k, v in headers if k != "Content-Length"]


@pytest.mark.parametrize("named", _named_in_table())
def test_nobody_reaches_a_page_or_act_without_signing_in(looking: Looking, named: str) -> None:
    method = named.partition(" ")[0]
    answers = [looking.ask(None, method, case.address) for case in cases(looking, "north", named)]
    told = {(answer.status_code, answer.headers.get("Location", "")[:8]) for answer in answers}
    assert told == {(302, "/sign-in")} if method == "GET" else told == {(401, "")}
