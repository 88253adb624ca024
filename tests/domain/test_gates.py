"""The gates before any comparison, each with every answer it can give."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portfolio.domain.assessing import assess
from portfolio.domain.coverage import Coverage, ZoneCase
from portfolio.domain.evidence import (
    Answer3,
    Classification,
    Consent,
    Criteria,
    Holding,
    Outcome,
    Standing,
    TestRecord,
)
from portfolio.domain.gates import Gate, Setting, gates, together
from portfolio.domain.routes import Route
from portfolio.domain.shelf import Shelf, shelf_of
from portfolio.reference.loader import load_reference
from tests.domain.factories import (
    ALL_MET,
    BR_135,
    ENGLAND,
    ON,
    judge,
    make_library,
    make_test,
    make_wall,
)

MET, NOT_MET, UNKNOWN = Answer3.MET, Answer3.NOT_MET, Answer3.UNKNOWN
PAIRING = "edition and classification pair up"
IDENTIFIED = "anybody can find the test again"
AGREES = "the record agrees with itself"
LATEST = "its report stands as it is"
OF_A_WALL = "the zone is a part of the wall"
OUTCOME = "the outcome follows from the criteria"
STANDING = "the evidence stands"
BASIS = "what it leans on stands"
ROUTE = "this route is accepted here"
SEEN = "the report was seen"
CONSENT = "the sponsor consents"
ALL_GATES = (
    PAIRING,
    IDENTIFIED,
    AGREES,
    OUTCOME,
    LATEST,
    STANDING,
    BASIS,
    ROUTE,
    OF_A_WALL,
    SEEN,
    CONSENT,
)


def gate(
    name: str,
    test: TestRecord,
    *,
    setting: Setting = ENGLAND,
    on: date = ON,
    shelf: Shelf | None = None,
    routes: tuple[Route, ...] | None = None,
) -> Gate:
    facts = load_reference().gate_facts
    if routes is not None:
        facts = replace(facts, routes=routes)
    found = gates(test, facts, setting, shelf or Shelf(), on)
    return next(g for g in found if g.name == name)


def test_there_are_eleven_gates_and_no_other() -> None:
    library = make_library(make_test())
    assert tuple(g.name for g in library.gates[ENGLAND]["T1"]) == ALL_GATES


@pytest.mark.parametrize("name", ALL_GATES)
def test_a_classified_passing_test_held_in_full_with_consent_meets_every_gate(name: str) -> None:
    assert gate(name, make_test()).answer is MET


# --- What it stood on, and when -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "substrate", "answer"),
    [
        # what each part stands on: BSI notice, 8 May 2019
        ("1", "masonry", MET),
        ("2", "steel-frame", MET),
        ("1", "steel-frame", UNKNOWN),
        ("2", "masonry", UNKNOWN),
        ("2", "other", UNKNOWN),
        ("", "masonry", MET),
    ],
)
def test_a_record_that_contradicts_its_own_part_is_not_sure(
    part: str, substrate: str, answer: Answer3
) -> None:
    test = make_test({"wall.substrate": substrate}, part=part)
    assert gate(AGREES, test).answer is answer


def test_a_test_that_contradicts_its_own_part_covers_nothing() -> None:
    wall = make_wall({"wall.substrate": "masonry"})
    right = make_test(
        {"wall.substrate": "masonry"}, part="1", classification=replace(BR_135, annex="A")
    )
    wrong = replace(right, part="2", classification=BR_135)
    assert judge(wall, right).coverage is Coverage.COVERED
    assert judge(wall, wrong).coverage is Coverage.TOO_LITTLE_KNOWN


@pytest.mark.parametrize(("days", "answer"), [(-1, MET), (0, MET), (1, NOT_MET)])
def test_a_test_of_tomorrow_does_not_stand_today(days: int, answer: Answer3) -> None:
    assert gate(STANDING, make_test(tested_on=ON + timedelta(days=days))).answer is answer


# --- Edition and classification ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("part", "edition", "annex", "answer", "why"),
    [
        ("1", "2002", "A", MET, "classified to annex A"),
        ("1", "2015", "A", MET, "classified to annex A"),
        ("1", "2015+A1:2017", "A", MET, "classified to annex A"),
        ("2", "2005", "B", MET, "classified to annex B"),
        ("2", "2015", "B", MET, "classified to annex B"),
        ("2", "2015+A1:2017", "B", MET, "classified to annex B"),
        ("1", "2020", "A", NOT_MET, "not reviewed for the 2020 edition"),
        ("2", "2020", "B", NOT_MET, "not reviewed for the 2020 edition"),
        ("2", "2020", "A", NOT_MET, "not reviewed, whatever the annex"),
        ("1", "2015", "B", NOT_MET, "the annex of the other part"),
        ("2", "2015", "A", NOT_MET, "the annex of the other part"),
        ("2", "2015", "", UNKNOWN, "no annex recorded"),
        ("2", "1999", "B", UNKNOWN, "nothing is recorded about such an edition"),
        ("", "2015", "A", UNKNOWN, "the part is not recorded"),
        ("2", "", "B", UNKNOWN, "the edition is not recorded"),
    ],
)
def test_an_edition_pairs_with_its_classification_document(
    part: str, edition: str, annex: str, answer: Answer3, why: str
) -> None:
    test = make_test(part=part, edition=edition, classification=replace(BR_135, annex=annex))
    assert gate(PAIRING, test).answer is answer, why


@pytest.mark.parametrize(
    ("paper", "answer"),
    [
        (None, NOT_MET),
        (Classification("", "third edition (2013)", "B"), UNKNOWN),
        (Classification("BR 135", "", "B"), UNKNOWN),
        (Classification("BR 135", "fourth edition", "B"), UNKNOWN),
    ],
)
def test_a_test_without_its_classification_document_does_not_pass_the_gate(
    paper: Classification | None, answer: Answer3
) -> None:
    assert gate(PAIRING, make_test(classification=paper)).answer is answer


def test_the_pairing_gate_names_its_source() -> None:
    assert "BR 135" in gate(PAIRING, make_test(edition="2020")).source


# --- Outcome -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("criteria", "printed", "answer", "why"),
    [
        (ALL_MET, Outcome.NOT_TOLD, MET, "the criteria tell"),
        (Criteria(), Outcome.PASSED, UNKNOWN, "a pass is printed and nobody has seen why"),
        (Criteria(), Outcome.NOT_TOLD, UNKNOWN, "a report is no pass"),
        (Criteria(), Outcome.FAILED, NOT_MET, "printed"),
        (ALL_MET, Outcome.FAILED, NOT_MET, "the stricter counts"),
        (replace(ALL_MET, no_early_end=NOT_MET), Outcome.PASSED, NOT_MET, "the stricter counts"),
    ],
)
def test_the_outcome_follows_from_the_criteria(
    criteria: Criteria, printed: Outcome, answer: Answer3, why: str
) -> None:
    test = make_test(criteria=criteria, printed_outcome=printed)
    assert gate(OUTCOME, test).answer is answer, why


# --- Standing, and what it leans on --------------------------------------------------------------


@pytest.mark.parametrize("standing", list(Standing))
def test_only_live_evidence_stands(standing: Standing) -> None:
    answer = gate(STANDING, make_test(standing=standing)).answer
    assert answer is (MET if standing is Standing.LIVE else NOT_MET)


@pytest.mark.parametrize(
    ("known", "answer"),
    [
        ({}, UNKNOWN),
        ({"T9": (Standing.LIVE, Outcome.PASSED)}, MET),
        ({"T9": (Standing.LIVE, Outcome.FAILED)}, NOT_MET),
        ({"T9": (Standing.LIVE, Outcome.NOT_TOLD)}, NOT_MET),
        ({"T9": (Standing.WITHDRAWN, Outcome.PASSED)}, NOT_MET),
        ({"T9": (Standing.DISPUTED, Outcome.PASSED)}, NOT_MET),
    ],
)
def test_evidence_falls_with_what_it_leans_on(
    known: dict[str, tuple[Standing, Outcome]], answer: Answer3
) -> None:
    assert gate(BASIS, make_test(leans_on=("T9",)), shelf=Shelf(known)).answer is answer


def test_one_of_several_leaned_on_tests_that_fell_is_enough() -> None:
    known = {
        "T8": (Standing.LIVE, Outcome.PASSED),
        "T9": (Standing.WITHDRAWN, Outcome.PASSED),
    }
    assert gate(BASIS, make_test(leans_on=("T8", "T9")), shelf=Shelf(known)).answer is NOT_MET


@pytest.mark.parametrize(
    ("leans_on", "stands", "why"),
    [
        ({"A": ()}, True, "by itself"),
        ({"A": ("B",), "B": ()}, True, "on a pass"),
        ({"A": ("B",), "B": ("C",), "C": ()}, True, "on a pass that stands on a pass"),
        ({"A": ("B",), "B": ("withdrawn",)}, False, "its own basis fell"),
        ({"A": ("B",), "B": ("C",), "C": ("withdrawn",)}, False, "the basis of its basis fell"),
        ({"A": ("B",), "B": ("failed",)}, False, "the basis of its basis failed"),
        ({"A": ("B",), "B": ("missing",)}, False, "nobody holds the basis of its basis"),
        ({"A": ("B",), "B": ("A",)}, False, "each on the other"),
        ({"A": ("A",)}, False, "on itself"),
    ],
)
def test_an_assessment_stands_only_as_far_down_as_everything_it_leans_on(
    leans_on: dict[str, tuple[str, ...]], stands: bool, why: str
) -> None:
    tests = [make_test(ref=ref, leans_on=others) for ref, others in leans_on.items()]
    tests += [make_test(ref="withdrawn", standing=Standing.WITHDRAWN)]
    tests += [make_test(ref="failed", fails=True)]
    assert (shelf_of(tests).known["A"] == (Standing.LIVE, Outcome.PASSED)) is stands, why


def test_a_pass_that_is_only_printed_is_none_to_lean_on() -> None:
    printed = make_test(ref="T9", criteria=Criteria(), printed_outcome=Outcome.PASSED)
    assert shelf_of([printed]).known["T9"] == (Standing.LIVE, Outcome.NOT_TOLD)


def test_what_fell_keeps_its_standing_and_is_no_pass_to_lean_on() -> None:
    tests = [
        make_test(ref="withdrawn", standing=Standing.WITHDRAWN),
        make_test(ref="failed", fails=True),
    ]
    assert shelf_of(tests).known == {
        "withdrawn": (Standing.WITHDRAWN, Outcome.NOT_TOLD),
        "failed": (Standing.LIVE, Outcome.FAILED),
    }


def test_a_wall_is_not_covered_by_an_assessment_of_an_assessment_of_a_withdrawn_test() -> None:
    tests = [
        make_test(ref="A", leans_on=("B",)),
        make_test({"cavity.1.depth": "90"}, ref="B", leans_on=("C",)),
        make_test({"cavity.1.depth": "90"}, ref="C"),
    ]
    withdrawn = replace(tests[2], standing=Standing.WITHDRAWN)
    assert judge(make_wall(), *tests).coverage is Coverage.COVERED
    assert judge(make_wall(), *tests[:2], withdrawn).coverage is not Coverage.COVERED


# --- Route ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("jurisdiction", "on", "answer", "why"),
    [
        ("England", ON, MET, "existing walls may be appraised by test"),
        ("Scotland", ON, MET, "the end of the route is for new work"),
        ("Wales", ON, MET, "from memory"),
        ("England", date(2017, 7, 27), UNKNOWN, "before the first day recorded"),
        ("England", date(2017, 7, 28), MET, "the first day"),
        ("Elsewhere", ON, UNKNOWN, "nothing is recorded"),
        ("", ON, UNKNOWN, "nobody says where the building stands"),
    ],
)
def test_the_route_depends_on_place_and_day(
    jurisdiction: str, on: date, answer: Answer3, why: str
) -> None:
    found = gate(ROUTE, make_test(), setting=Setting(jurisdiction), on=on)
    assert found.answer is answer, why


def route(accepts: Answer3, start: date, end: date | None = None) -> Route:
    return Route("England", "existing", accepts, start, end, "invented", "invented for a test")


@pytest.mark.parametrize(
    ("on", "answer"),
    [
        (date(2020, 1, 1), MET),
        (date(2024, 12, 31), MET),
        (date(2025, 1, 1), NOT_MET),
        (date(2025, 12, 31), NOT_MET),
        (date(2026, 1, 1), MET),  # an ended route no longer counts on the day it ends
    ],
)
def test_a_later_route_replaces_an_earlier_one_from_its_day(on: date, answer: Answer3) -> None:
    routes = (
        route(NOT_MET, date(2025, 1, 1), date(2026, 1, 1)),
        route(MET, date(2020, 1, 1)),
    )
    assert gate(ROUTE, make_test(), on=on, routes=routes).answer is answer


# --- Holding and consent -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("holding", "answer"),
    [(Holding.IN_FULL, MET), (Holding.SUMMARY, UNKNOWN), (Holding.NOT_SEEN, UNKNOWN)],
)
def test_only_a_report_held_in_full_was_seen(holding: Holding, answer: Answer3) -> None:
    assert gate(SEEN, make_test(holding=holding)).answer is answer


@pytest.mark.parametrize(
    ("consent", "answer"),
    [
        (Consent.OWN, MET),
        (Consent.PUBLISHED, MET),
        (Consent.GIVEN, MET),
        (Consent.ASKED, UNKNOWN),
        (Consent.NOT_ASKED, UNKNOWN),
        (Consent.REFUSED, NOT_MET),
    ],
)
def test_each_state_of_consent_has_its_answer(consent: Consent, answer: Answer3) -> None:
    assert gate(CONSENT, make_test(consent=consent)).answer is answer


@pytest.mark.parametrize("source", ["", " "])
def test_whoever_says_published_says_where(source: str) -> None:
    found = gate(CONSENT, make_test(consent=Consent.PUBLISHED, source=source, holder="An Owner"))
    assert found.answer is UNKNOWN
    assert found.reason == "published, says An Owner; where it was is not recorded"


# --- Finding it again ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("less", "reason"),
    [
        ({"tested_on": None}, "no day is recorded of it"),
        ({"classification": None}, "no number of a report is recorded of it"),
        (
            {"classification": Classification("BR 135", "third edition (2013)", "B", " ")},
            "no number of a report is recorded of it",
        ),
        (
            {"classification": None, "tested_on": None, "report_ref": " "},
            "no number of a report and no day is recorded of it",
        ),
    ],
)
def test_a_test_that_nobody_could_find_again_is_not_sure(
    less: dict[str, object], reason: str
) -> None:
    found = gate(IDENTIFIED, make_test(**less))
    assert (found.answer, found.reason) == (UNKNOWN, reason)
    assert judge(make_wall(), make_test(**less)).coverage is not Coverage.COVERED


def test_the_number_of_the_report_or_of_its_classification_is_enough() -> None:
    assert gate(IDENTIFIED, make_test()).answer is MET
    assert gate(IDENTIFIED, make_test(classification=None, report_ref="R-1")).answer is MET


# --- Together ------------------------------------------------------------------------------------


@given(st.lists(st.sampled_from(list(Answer3)), max_size=5))
def test_gates_together_are_the_worst_of_them(answers: list[Answer3]) -> None:
    found = together([Gate(str(i), answer, "") for i, answer in enumerate(answers)])
    worst_first = [NOT_MET, UNKNOWN, MET]
    assert found is min(answers, key=worst_first.index, default=MET)


# --- What hangs on the wall ----------------------------------------------------------------------


def test_a_test_of_a_wall_shows_nothing_of_what_is_attached_to_it() -> None:
    """A balcony's decking may be what burns: the zone may be covered and the attachment is not."""
    balcony = Setting("England", is_attachment=True)
    assert gate(OF_A_WALL, make_test(), setting=balcony).answer is NOT_MET
    library = make_library(make_test(), settings=[ENGLAND, balcony])
    cases = [ZoneCase(make_wall(), setting) for setting in (ENGLAND, balcony)]
    wall, attached = assess(cases, library)
    assert wall.coverage is Coverage.COVERED
    assert attached.coverage is Coverage.NO_MATCHING_EVIDENCE


def test_a_failing_test_of_the_same_materials_speaks_against_an_attachment_too() -> None:
    balcony = Setting("England", is_attachment=True)
    library = make_library(make_test(fails=True), settings=[balcony])
    [found] = assess([ZoneCase(make_wall(), balcony)], library)
    assert found.coverage is Coverage.CONTRADICTED
