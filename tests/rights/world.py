"""Organisations that share little, with every word of theirs marked, so that it is found anywhere.

What is named `CANARY-NORTH-READ-ADDRESS` belongs to north, and there to the building "read".
"""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db.certificates import Certificate
from portfolio.db.documents import Document, DocumentSupport
from portfolio.db.life import Concerned, Reopened
from portfolio.db.models import (
    Building,
    Decision,
    Event,
    HeightClaim,
    Organisation,
    OrganisationKind,
    Survey,
    TestConsent,
    TestRecord,
    Zone,
)
from portfolio.db.orders import OrderVersion
from portfolio.db.people import BuildingGrant, DemandShare, Invitation, Person, SignIn
from portfolio.db.rules import RuleVersion
from portfolio.db.states import states_of
from portfolio.db.works import CalendarLink, InterimMeasure, Works, WorksStep, WorksZone
from portfolio.domain.documents import DocumentKind, FactKind, SeenBy
from portfolio.domain.evidence import Answer3, Consent, Holding, Outcome, Shows, Standing
from portfolio.domain.rights import Access, Role
from portfolio.domain.rules import RuleKind
from portfolio.domain.surveys import Basis
from portfolio.domain.works import Decided, WorksStatus
from portfolio.services import coverage
from portfolio.services.accounts import passwords
from portfolio.services.documents.contents import contents_for
from tests.web.portfolios import ON, wall

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
BEFORE = datetime(2026, 2, 1, 12, tzinfo=UTC)
LONG_AGO, FAR_AHEAD = date(2020, 1, 1), date(2999, 1, 1)
MISSING = 2_000_000

OWNER, CONSULTANCY, LABORATORY = OrganisationKind
KINDS = {
    "north": OWNER,
    "south": OWNER,
    "east": OWNER,
    "keeper": OWNER,
    "consult": CONSULTANCY,
    "rival": CONSULTANCY,
    "helper": CONSULTANCY,
    "lab": LABORATORY,
    "lab2": LABORATORY,
}
VIEWERS = ("north", "consult", "lab")
GRANTS: dict[str, dict[str, Any]] = {
    "read": {"access": Access.READ},
    "edit": {"access": Access.EDIT},
    "taken": {"access": Access.EDIT, "taken_back_at": BEFORE},
    "over": {"access": Access.EDIT, "until_day": LONG_AGO},
    "early": {"access": Access.EDIT, "from_day": FAR_AHEAD},
}
BUILDINGS = {
    "north": (*GRANTS, "hidden"),
    "south": ("home",),
    "east": ("home",),
    "consult": ("home",),
    "lab": ("home",),
}
# what the sponsor said to each of those who look
SAID: dict[str, dict[str, Any]] = {
    "everything": {"consent": Consent.GIVEN, "shows": Shows.EVERYTHING},
    "reference": {"consent": Consent.GIVEN, "shows": Shows.REFERENCE},
    "asked": {"consent": Consent.ASKED},
    "refused": {"consent": Consent.REFUSED},
    "runout": {"consent": Consent.GIVEN, "shows": Shows.EVERYTHING, "until": LONG_AGO},
}


@dataclass
class World:
    """Ids of everything, by whose it is and what it is called."""

    organisations: dict[str, int] = field(default_factory=dict)
    buildings: dict[tuple[str, str], int] = field(default_factory=dict)
    zones: dict[tuple[str, str], int] = field(default_factory=dict)
    walls: dict[tuple[str, str], str] = field(default_factory=dict)
    tests: dict[tuple[str, str], int] = field(default_factory=dict)
    people: dict[str, int] = field(default_factory=dict)
    invitations: dict[str, int] = field(default_factory=dict)
    grants: dict[str, int] = field(default_factory=dict)
    shares: dict[str, int] = field(default_factory=dict)
    certificates: dict[str, int] = field(default_factory=dict)
    #: a rule of its engineers, by whose it is
    rules: dict[str, int] = field(default_factory=dict)
    orders: dict[str, int] = field(default_factory=dict)
    #: an address of a calendar, by the organisation that it is of
    calendars: dict[str, int] = field(default_factory=dict)
    #: an entry of what a test's sponsor said, by the test
    consents: dict[int, int] = field(default_factory=dict)
    #: the document and its support, by who added it and the building; "kept": not for others
    documents: dict[tuple[str, str], tuple[int, int]] = field(default_factory=dict)
    #: the document of a test's log, by the test
    logs: dict[int, int] = field(default_factory=dict)
    tokens: dict[tuple[str, Role], str] = field(default_factory=dict)


def canary(*words: str) -> str:
    return "-".join(("CANARY", *words)).upper()


def email(organisation: str, role: Role) -> str:
    return f"{canary(organisation, 'person', role.value)}@mail.test".casefold()


def made_world(session: Session) -> World:
    """Everything, with coverage computed."""
    return _Maker(session).made()


class _Maker:
    def __init__(self, session: Session) -> None:
        self.session = session
        self.world = World()

    def made(self) -> World:
        for name, kind in KINDS.items():
            row = self._add(
                Organisation(ref=canary(name, "orgref"), name=canary(name, "name"), kind=kind)
            )
            self.world.organisations[name] = row.id
        for name in KINDS:
            self._people(name)
        for owner, names in BUILDINGS.items():
            for name in names:
                self._building(owner, name)
        self._tests()
        self._shares()
        self._documents()
        self._logs()
        for name in (*BUILDINGS, "rival"):
            self._certificate(name)
        for name in KINDS:
            self._rule(name)
            self._order(name)
            self._calendar(name)
        coverage.refresh(self.session, ON)
        self._keys()
        return self.world

    def _add(self, row: Any) -> Any:
        self.session.add(row)
        self.session.flush()
        return row

    def _people(self, name: str) -> None:
        own = self.world.organisations[name]
        for role in Role:
            token = passwords.new_token()
            person = self._person(own, name, role.value, email(name, role), role)
            seen = {"started_at": NOON, "seen_at": NOON}
            hashed = passwords.token_hash(token)
            self._add(SignIn(person_id=person.id, token_hash=hashed, **seen))
            self.world.tokens[name, role] = token
        address = f"{canary(name, 'person', 'target')}@mail.test".casefold()
        target = self._person(own, name, "target", address, Role.READER)
        self.world.people[name] = target.id
        invitation = Invitation(
            organisation_id=own,
            email=f"{canary(name, 'invited')}@mail.test".casefold(),
            name=canary(name, "invited"),
            role=Role.READER,
            token_hash=passwords.token_hash(name),
            expires_at=datetime(2999, 1, 1, tzinfo=UTC),
            invited_by=canary(name, "person"),
        )
        self.world.invitations[name] = self._add(invitation).id

    def _person(self, own: int, name: str, what: str, address: str, role: Role) -> Person:
        person: Person = self._add(
            Person(
                organisation_id=own,
                email=address,
                name=canary(name, "person", what),
                role=role,
                password_hash="none",
            )
        )
        self._log("person", person, own, name)
        return person

    def _building(self, owner: str, name: str) -> None:
        own, marked = self.world.organisations[owner], lambda what: canary(owner, name, what)
        building = self._add(
            Building(
                organisation_id=own,
                ref=marked("ref"),
                name=marked("building"),
                address=marked("address"),
                note=marked("note"),
                jurisdiction="England",
                use="flats",
                evacuation="stay-put",
                homes=10,
                search_text=f"{marked('ref')} {marked('address')}".casefold(),
                heights=[HeightClaim(metres=20.25, method="drawing", source=marked("height"))],
            )
        )
        self.world.buildings[owner, name] = building.id
        zone = self._add(
            Zone(
                building_id=building.id,
                ref=marked("zone"),
                description=marked("described"),
                face=marked("face"),
                area_m2=100.0,
            )
        )
        self.world.zones[owner, name] = zone.id
        self._add(
            Reopened(
                id=zone.id,
                organisation_id=own,
                building_id=building.id,
                subject=Concerned.ZONE,
                subject_id=zone.id,
                subject_ref=f"{marked('ref')} / {marked('zone')}",
                because=marked("because"),
                on=ON,
            )
        )
        self._add(
            Decision(
                id=zone.id,
                zone_id=zone.id,
                ruling=marked("ruling"),
                by=marked("engineer"),
                qualification=marked("qualified"),
                on=date(2026, 1, 10),
                reasons=marked("reasons"),
                # everything else has changed since: it is to be looked at again
                rested_on={"coverage": marked("rested")},
            )
        )
        self._works(owner, name, building.id, zone.id)
        self._log("building", building, own, owner)
        self._log("zone", zone, own, owner)
        facing = "glass" if owner == "south" else "metal-composite-panel"
        for number, thickness in enumerate(("150", "90")):
            told = wall(
                insulation__thickness=thickness,
                insulation__product=marked("product"),
                facing__product=marked("product"),
                facing__material=facing,
            )
            survey = self._add(
                Survey(
                    zone_id=zone.id,
                    ref=f"{marked('survey')}-{number}",
                    basis=Basis.OPENING_UP,
                    on=date(2026, 1, 10),
                    source=marked("source"),
                    build_up=told,
                )
            )
            by = "rival" if (owner, name) == ("north", "edit") and number else owner
            self._log("survey", survey, own, by)

    def _works(self, owner: str, name: str, building: int, zone: int) -> None:
        """Works and an interim measure that bear the number of their zone."""
        own, marked = self.world.organisations[owner], lambda what: canary(owner, name, what)
        words = ("title", "programme", "responsible", "funding_route", "due_reason", "note")
        works = self._add(
            Works(
                id=zone,
                building_id=building,
                ref=marked("works"),
                uid=f"works-{zone}",
                decided=Decided.REPLACEMENT,
                decided_reason=marked("decided"),
                status=WorksStatus.IDENTIFIED,
                status_on=LONG_AGO,
                due_on=LONG_AGO,
                zones=[WorksZone(zone_id=zone)],
                **{word: marked(f"works{word}".replace("_", "")) for word in words},
            )
        )
        step = {"status": WorksStatus.IDENTIFIED, "on": LONG_AGO, "recorded_on": LONG_AGO}
        by = canary(owner, "person", "engineer")
        said = {"documents": marked("stepdocuments"), "reason": marked("stepreason")}
        self._add(WorksStep(works_id=works.id, recorded_by=by, **step, **said))
        self._add(
            InterimMeasure(
                id=zone,
                works_id=works.id,
                uid=f"interim-{zone}",
                measure=marked("measure"),
                started_on=LONG_AGO,
                review_on=LONG_AGO,
            )
        )
        self._log("works", works, own, owner)

    def _calendar(self, name: str) -> None:
        row = self._add(
            CalendarLink(
                organisation_id=self.world.organisations[name],
                token_hash=passwords.token_hash(f"calendar of {name}"),
                made_by=canary(name, "person"),
                made_on=LONG_AGO,
            )
        )
        self.world.calendars[name] = row.id

    def _tests(self) -> None:
        for name in VIEWERS:
            self._test(name, "test", canary(name, "test", "ref"), consent=Consent.OWN)
        # of the same reference as north's: whoever has it may be shown no more of north's
        self._test("consult", "alike", canary("north", "test", "ref"), consent=Consent.OWN)
        marked = {name: canary("keeper", name, "ref") for name in (*SAID, "published", "none")}
        self._test("keeper", "published", marked["published"], consent=Consent.PUBLISHED)
        for name in ("none", *SAID):
            self._test("keeper", name, marked[name], consent=Consent.OWN)
        for name, said in SAID.items():
            test = self.world.tests["keeper", name]
            for viewer in VIEWERS:
                self._consent(test, canary(viewer, "orgref"), viewer, **said)
        for name in VIEWERS:
            test = self.world.tests[name, "test"]
            self._consent(test, canary(name, "stated", "orgref"), consent=Consent.ASKED)

    def _consent(self, test: int, ref: str, to: str = "", **said: Any) -> None:
        own = self.world.organisations.get(to)
        row = TestConsent(test_id=test, organisation_ref=ref, organisation_id=own, **said)
        self.world.consents[test] = self._add(row).id

    def _test(self, holder: str, name: str, ref: str, **more: Any) -> None:
        own, marked = self.world.organisations[holder], lambda what: canary(holder, name, what)
        met = Answer3.MET
        row = self._add(
            TestRecord(
                organisation_id=own,
                ref=ref,
                title=marked("title"),
                laboratory=marked("house"),
                sponsor=marked("sponsor"),
                standard="BS 8414",
                part="1",
                edition=marked("edition"),
                tested_on=date(2019, 3, 7),
                external_spread=met,
                internal_spread=met,
                no_flames_above_rig=met,
                no_early_end=met,
                burn_through=None,
                observations=marked("observed"),
                printed_outcome=Outcome.PASSED,
                class_document="BR 135",
                class_edition=marked("classed"),
                class_report=marked("paper"),
                standing=Standing.LIVE,
                standing_note=marked("standing"),
                holding=Holding.IN_FULL,
                leans_on=[marked("basis")],
                source=marked("source"),
                build_up=wall(insulation__product=marked("product"), cavity__depth="53.25"),
                **more,
            )
        )
        self.world.tests[holder, name] = row.id
        self._log("test", row, own, holder)

    def _shares(self) -> None:
        since = {"from_day": LONG_AGO, "granted_by": canary("north", "person")}
        for name, more in GRANTS.items():
            self._grant("north", name, "consult", **(since | more))
        self._grant("north", "edit", "rival", **(since | {"access": Access.EDIT}))
        for name in ("consult", "lab", "south"):
            self._grant(name, "home", "helper", **(since | {"access": Access.READ}))
        for name, laboratory in (
            ("north", "lab"),
            ("east", "lab"),
            ("south", "lab2"),
            ("consult", "lab2"),
            ("lab", "lab2"),
        ):
            share = DemandShare(
                owner_id=self.world.organisations[name],
                laboratory_id=self.world.organisations[laboratory],
                is_named=True,
                since=LONG_AGO,
                granted_by=canary(name, "person"),
            )
            self.world.shares[name] = self._add(share).id

    def _documents(self) -> None:
        for owner, names in BUILDINGS.items():
            for name in names:
                self._document(owner, name, owner, name)
        self._document("north", "kept", "north", "edit", seen_by=SeenBy.OWN)
        self._document("rival", "edit", "north", "edit")
        self._document("rival", "kept", "north", "edit", seen_by=SeenBy.OWN)

    def _certificate(self, holder: str) -> None:
        own = self.world.organisations[holder]
        words = ("ref", "product", "material", "issued_by")
        marked = {word: canary(holder, "certificate", word) for word in words}
        row = self._add(Certificate(organisation_id=own, **marked))
        self.world.certificates[holder] = row.id
        self._log("certificate", row, own, holder)

    def _rule(self, holder: str) -> None:
        """A rule that allows the cavity of every test, whatever it differs by."""
        own = self.world.organisations[holder]
        words = ("title", "document", "clause", "author", "reason")
        row = self._add(
            RuleVersion(
                organisation_id=own,
                key=canary(holder, "rule", "key").casefold(),
                version=1,
                parameter="cavity.1.depth",
                kind=RuleKind.NOT_MORE,
                equals=[],
                families=[],
                jurisdictions=[],
                conditions=[],
                since=LONG_AGO,
                examples=[],
                recorded_on=LONG_AGO,
                **{word: canary(holder, "rule", word) for word in words},
            )
        )
        self.world.rules[holder] = row.id
        self._log("rule", row, own, holder, row.key)

    def _order(self, holder: str) -> None:
        """An order of gaps by sprinklers alone."""
        own = self.world.organisations[holder]
        words = ("title", "author", "reason")
        row = self._add(
            OrderVersion(
                organisation_id=own,
                key=canary(holder, "order", "key").casefold(),
                version=1,
                steps=[{"criterion": "sprinklers", "groups": [], "limits": []}],
                recorded_on=LONG_AGO,
                **{word: canary(holder, "order", word) for word in words},
            )
        )
        self.world.orders[holder] = row.id
        self._log("order", row, own, holder, row.key)

    def _document(
        self, holder: str, name: str, owner: str, place: str, seen_by: SeenBy = SeenBy.WITH_FACT
    ) -> None:
        zone = self.world.zones[owner, place]
        survey = self.session.scalars(sa.select(Survey.id).filter_by(zone_id=zone)).first() or 0
        where = {"building_id": self.world.buildings[owner, place], "zone_id": zone}
        row = self._paper(holder, name, seen_by, fact=FactKind.SURVEY, fact_id=survey, **where)
        self.world.documents[holder, name] = row.id, row.supports[0].id

    def _logs(self) -> None:
        """A document for each test that would be its log, shown to whoever sees the test in full;
        it holds no readings."""
        for (holder, name), test in self.world.tests.items():
            where = {"fact": FactKind.TEST, "fact_id": test, "test_id": test}
            row = self._paper(holder, f"{name}-log", SeenBy.WITH_FACT, **where)
            self.world.logs[test] = row.id

    def _paper(self, holder: str, name: str, seen_by: SeenBy, **where: Any) -> Document:
        content = canary(holder, name, "content").encode()
        by = canary(holder, "person", "engineer")
        row: Document = self._add(
            Document(
                organisation_id=self.world.organisations[holder],
                sha256=contents_for(self.session.get_bind().engine).put(content),
                size=len(content),
                media="application/octet-stream",
                file_name=canary(holder, name, "file"),
                kind=DocumentKind.REPORT,
                reference=canary(holder, name, "paper"),
                seen_by=seen_by,
                added_by=by,
                added_on=ON,
                supports=[DocumentSupport(**where, added_by=by, added_on=ON)],
            )
        )
        self._log("document", row, self.world.organisations[holder], holder, row.file_name)
        return row

    def _grant(self, owner: str, name: str, to: str, **more: Any) -> None:
        row = self._add(
            BuildingGrant(
                building_id=self.world.buildings[owner, name],
                organisation_id=self.world.organisations[to],
                **more,
            )
        )
        self.world.grants.setdefault(owner, row.id)
        self._log("grant", row, self.world.organisations[owner], owner, canary(to, "orgref"))

    def _log(self, subject: str, row: Any, own: int, by: str, ref: str = "") -> None:
        """An entry of the day before; `changes` tells what the thing is called."""
        states = states_of(self.session, [(subject, row.id)])
        called = ref or getattr(row, "ref", "") or getattr(row, "email", "")
        self._add(
            Event(
                at=BEFORE,
                organisation_id=own,
                actor=f"{canary(by, 'person', 'engineer')}, {canary(by, 'name')}",
                acting_organisation_id=self.world.organisations[by],
                action="created",
                subject=subject,
                subject_id=row.id,
                subject_ref=called,
                changes={"ref": [None, called]},
                state=states.get((subject, row.id)),
                previous_hash="0" * 64,
                hash="0" * 64,
            )
        )

    def _keys(self) -> None:
        query = sa.text("SELECT zone_id, wall_key FROM zone_result")
        keys = {row.zone_id: row.wall_key for row in self.session.execute(query)}
        self.world.walls = {name: keys[zone] for name, zone in self.world.zones.items()}
