"""The rights table. DEVELOPERS.md has the same one, and a test compares the two.

A cell has the roles for which an act works: R reader, E editor, G engineer, A administrator. The
other roles are told that it is not for their role (403); "none" tells it to every role. "hidden"
answers like something that is not there (404).
"""

from dataclasses import dataclass

ALL, EDITORS, ENGINEERS, ADMINISTRATORS = "R E G A", "E G A", "G", "A"
HIDDEN, NONE = "hidden", "none"


@dataclass(frozen=True, slots=True)
class OfBuildings:
    """Acts on a building, and on what hangs on one."""

    act: str
    endpoints: tuple[str, ...]
    own: str
    read: str
    edit: str
    ended: str = HIDDEN
    foreign: str = HIDDEN


OF_BUILDINGS = (
    OfBuildings(
        "see a building, its zones, coverage, log, evidence pack, works, today or as of a day, "
        "and what lacks a document; compare a zone",
        (
            "GET building.show",
            "GET building.pack",
            "GET documents.missing",
            "GET looking_back.show",
            "GET looking_back.pack",
            "GET zone.show",
            "GET comparing.show",
            "GET works.of_building",
        ),
        ALL,
        ALL,
        ALL,
    ),
    OfBuildings(
        "change a building or a zone, add a zone, a survey or a document, look at one again",
        (
            "GET building.edit",
            "POST building.edit",
            "GET zone.new",
            "POST zone.new",
            "GET zone.edit",
            "POST zone.edit",
            "GET zone.survey",
            "POST zone.survey",
            "POST to_look_at.look",
            "GET documents_adding.to_building",
            "POST documents_adding.to_building",
            "GET documents_adding.to_zone",
            "POST documents_adding.to_zone",
        ),
        EDITORS,
        NONE,
        EDITORS,
    ),
    OfBuildings(
        "record works, their statuses and interim measures",
        (
            "GET works_editing.new",
            "POST works_editing.new",
            "GET works_editing.edit",
            "POST works_editing.edit",
            "GET works_editing.step",
            "POST works_editing.step",
            "GET works_editing.new_interim",
            "POST works_editing.new_interim",
            "GET works_editing.edit_interim",
            "POST works_editing.edit_interim",
        ),
        EDITORS,
        NONE,
        EDITORS,
    ),
    OfBuildings(
        "record a decision, confirm one, settle a conflict",
        (
            "GET ruling.decide",
            "POST ruling.decide",
            "GET ruling.confirm",
            "POST ruling.confirm",
            "GET ruling.settle_conflict",
            "POST ruling.settle_conflict",
        ),
        ENGINEERS,
        NONE,
        ENGINEERS,
    ),
)


@dataclass(frozen=True, slots=True)
class OfTests:
    """Acts on a test record; `asked`: also refused, or given and run out."""

    act: str
    endpoints: tuple[str, ...]
    own: str
    published: str
    everything: str
    reference: str
    asked: str = HIDDEN
    foreign: str = HIDDEN


OF_TESTS = (
    OfTests("see a test", ("GET evidence.show",), ALL, ALL, ALL, ALL),
    OfTests(
        "change a test, its standing, and to whom its sponsor consents, add a document",
        (
            "GET evidence.edit",
            "POST evidence.edit",
            "GET consents.index",
            "POST consents.index",
            "GET consents.remove",
            "POST consents.remove",
            "GET standing.change",
            "POST standing.change",
            "GET documents_adding.to_test",
            "POST documents_adding.to_test",
        ),
        EDITORS,
        HIDDEN,
        HIDDEN,
        HIDDEN,
    ),
    OfTests(
        "take the answers of its log into a test's record",
        ("GET kept_log.take", "POST kept_log.take"),
        EDITORS,
        HIDDEN,
        HIDDEN,
        HIDDEN,
    ),
    OfTests(
        "settle which outcome of a test counts",
        ("GET outcome.settle", "POST outcome.settle"),
        ENGINEERS,
        HIDDEN,
        HIDDEN,
        HIDDEN,
    ),
)


@dataclass(frozen=True, slots=True)
class OfDocuments:
    """Acts on a document, by the building that it supports and for whom it may be seen."""

    act: str
    endpoints: tuple[str, ...]
    own: str
    read: str
    edit: str
    kept: str = HIDDEN
    foreign: str = HIDDEN


OF_DOCUMENTS = (
    OfDocuments(
        "see a document, take its file, have it judged as a log",
        ("GET documents.show", "GET documents.file", "GET kept_log.show"),
        ALL,
        ALL,
        ALL,
    ),
    OfDocuments(
        "say how a log is read",
        ("GET kept_log.reading", "POST kept_log.reading"),
        EDITORS,
        NONE,
        NONE,
    ),
    OfDocuments(
        "take back that a document supports a fact",
        ("POST documents.detach",),
        EDITORS,
        NONE,
        EDITORS,
    ),
)


@dataclass(frozen=True, slots=True)
class OfOrganisations:
    """Acts on people, links, grants, shares and uploads of an organisation."""

    act: str
    endpoints: tuple[str, ...]
    own: str
    foreign: str = HIDDEN


OF_ORGANISATIONS = (
    OfOrganisations("see one group of gaps", ("GET demand.group",), ALL),
    OfOrganisations("see a certificate of a material", ("GET certificates.show",), ALL),
    OfOrganisations("see a rule of its engineers", ("GET rules.show",), ALL),
    OfOrganisations("see an order of gaps that it wrote", ("GET orders.show",), ALL),
    OfOrganisations(
        "write a further version of an order",
        ("GET orders.replace", "POST orders.replace"),
        ENGINEERS,
    ),
    OfOrganisations(
        "write a further version of a rule",
        ("GET rules.replace", "POST rules.replace"),
        ENGINEERS,
    ),
    OfOrganisations(
        "change a certificate of a material, add a document to it",
        (
            "GET certificates.edit",
            "POST certificates.edit",
            "GET documents_adding.to_certificate",
            "POST documents_adding.to_certificate",
        ),
        EDITORS,
    ),
    OfOrganisations(
        "change a person's role or account, make or withdraw a link",
        (
            "POST people.set_role",
            "POST people.deactivate",
            "POST people.reactivate",
            "POST people.new_link",
            "POST people.withdraw",
        ),
        ADMINISTRATORS,
        # whoever administers nobody is told so before anything is looked up
        "A: hidden",
    ),
    OfOrganisations(
        "see what a laboratory sees of one's own part of a group",
        ("GET sharing.preview_group",),
        ADMINISTRATORS,
        "A: hidden",
    ),
    OfOrganisations(
        "take a grant back, stop sharing demand",
        ("POST sharing.take_back", "POST sharing.stop_sharing_demand"),
        ADMINISTRATORS,
        "A: hidden",
    ),
    OfOrganisations(
        "withdraw the organisation's address of a calendar",
        ("POST calendars.withdraw",),
        ADMINISTRATORS,
    ),
    OfOrganisations(
        "look at, apply or give up an upload",
        ("GET uploads.preview", "POST uploads.apply", "POST uploads.forget"),
        EDITORS,
        "E G A: hidden",
    ),
)


@dataclass(frozen=True, slots=True)
class WithoutThing:
    """Pages and acts that are about no one thing, by the kind of the organisation."""

    act: str
    endpoints: tuple[str, ...]
    owner: str
    consultancy: str
    laboratory: str


WITHOUT_THING = (
    WithoutThing(
        "see the overview, lists, demand, the log, one's account, the empty workbook",
        (
            "GET overview.index",
            "GET buildings_list.index",
            "GET gaps.index",
            "GET find_out.index",
            "GET find_out.zones",
            "GET progress.index",
            "GET evidence.index",
            "GET to_look_at.index",
            "GET ruling.index",
            "GET demand.index",
            "GET documents.index",
            "GET certificates.index",
            "GET rules.index",
            "GET orders.index",
            "GET orders.shipped",
            "GET works.index",
            "GET works.release",
            "GET calendars.index",
            "GET log.index",
            "GET account.show",
            "GET uploads.template",
        ),
        ALL,
        ALL,
        ALL,
    ),
    WithoutThing(
        "have a logger's file judged, of which nothing is stored",
        ("GET classify.index", "POST classify.judge"),
        ALL,
        ALL,
        ALL,
    ),
    WithoutThing(
        "make an address of a calendar for oneself",
        ("POST calendars.make",),
        ALL,
        ALL,
        ALL,
    ),
    WithoutThing(
        "change one's password, sign out here or everywhere",
        (
            "POST account.show",
            "POST account.sign_out_everywhere",
            "POST signing_in.sign_out",
        ),
        ALL,
        ALL,
        ALL,
    ),
    WithoutThing(
        "add a building, a test or a certificate, hand in an upload",
        (
            "GET building.new",
            "POST building.new",
            "GET evidence.new",
            "POST evidence.new",
            "GET certificates.new",
            "POST certificates.new",
            "GET uploads.index",
            "POST uploads.hand_in",
        ),
        EDITORS,
        EDITORS,
        EDITORS,
    ),
    WithoutThing(
        "write an order of gaps, and see who would move",
        ("GET orders.new", "POST orders.new"),
        ENGINEERS,
        ENGINEERS,
        ENGINEERS,
    ),
    WithoutThing(
        "write a rule, and see what it would change",
        ("GET rules.new", "POST rules.new"),
        ENGINEERS,
        ENGINEERS,
        ENGINEERS,
    ),
    WithoutThing(
        "see what is shared",
        ("GET sharing.index",),
        ADMINISTRATORS,
        ALL,
        ALL,
    ),
    WithoutThing(
        "see people and invite, open buildings, share demand",
        (
            "GET people.index",
            "POST people.invite",
            "GET sharing.new",
            "POST sharing.new",
            "POST sharing.share_demand",
            "GET sharing.preview",
            "POST sharing.take_all_back",
        ),
        ADMINISTRATORS,
        ADMINISTRATORS,
        ADMINISTRATORS,
    ),
)

PUBLIC = (
    "GET static",
    "GET signing_in.sign_in",
    "POST signing_in.sign_in",
    "GET signing_in.join",
    "POST signing_in.join",
    "GET calendars.feed",
)
"""What anybody reaches without signing in."""

READS = {
    "coverage": ALL,
    "decisions": ALL,
    "gaps": ALL,
    "explain": ALL,
    "compare": ALL,
    "demand": ALL,
    "pack": ALL,
    "progress": ALL,
    "rules check": ALL,
    "rules export": ALL,
    "works figures": ALL,
    "works list": ALL,
}
"""Commands that take --as and then show no more than that person's pages."""

RUN_BY_THE_OPERATOR = {
    "backup",
    "classify",
    "db upgrade",
    "demo",
    "documents add",
    "documents verify",
    "import",
    "log verify",
    "people first-administrator",
    "restore",
    "rules import",
    "serve",
    "template",
}
"""Commands of whoever may reach the database anyway."""

TABLES = (OF_BUILDINGS, OF_TESTS, OF_DOCUMENTS, OF_ORGANISATIONS, WITHOUT_THING)
"""Everything that needs signing in."""
