"""The form of a test record, with the wall that was tested."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import Any

from wtforms import StringField, TextAreaField

from portfolio.domain.evidence import (
    LONGEST_RUN_S,
    Answer3,
    Consent,
    EvidenceKind,
    Holding,
    Outcome,
    Standing,
)
from portfolio.domain.plain_text import wrong_in_references
from portfolio.services.editing_tests import TestFacts
from portfolio.web.form_fields import DayField, WholeField, choice, offered, told, told_ref
from portfolio.web.forms_wall import WallForm, wall_values

NOT_APPLICABLE = "not-applicable"
_CRITERIA = (
    "external_spread",
    "internal_spread",
    "burn_through",
    "no_flames_above_rig",
    "no_early_end",
)
_TEXTS = (
    "ref",
    "title",
    "laboratory",
    "sponsor",
    "standard",
    "part",
    "edition",
    "observations",
    "class_document",
    "class_edition",
    "class_annex",
    "class_report",
    "author",
    "report_ref",
    "report_issue",
    "standing_note",
    "source",
)


_PLAIN = ("tested_on", "report_on", "run_seconds")


def _words(kind: type[StrEnum]) -> Iterable[tuple[str, str]]:
    return [(word.value, word.value.replace("-", " ")) for word in kind]


_ANSWERS = list(_words(Answer3))


class TestForm(WallForm):
    """What the holder of a test may say of it."""

    __test__ = False

    holder = choice("Held by", [], empty=None)
    ref = StringField("Reference", **told_ref(required="Give the test a reference."))
    title = StringField("Title", **told(300))
    laboratory = StringField("Laboratory", **told(200))
    sponsor = StringField("Sponsor", **told(200))
    standard = StringField("Standard", **told(60))
    part = StringField("Part", **told(10))
    edition = StringField("Edition", **told(60))
    kind = choice("Kind", _words(EvidenceKind), empty=None, default="test")
    author = StringField(
        "Author",
        description="Of an assessment, which names also the tests that it leans on: else nothing "
        "can lean on it.",
        **told(200),
    )
    tested_on = DayField("Date of the test")
    run_seconds = WholeField("Run time (s)", most=LONGEST_RUN_S)
    report_ref = StringField("Report", description="The laboratory's reference.", **told(100))
    report_issue = StringField("Its issue", **told(40))
    report_on = DayField("Date of the report")
    external_spread = choice("External spread", _ANSWERS, empty=None, default="unknown")
    internal_spread = choice("Internal spread", _ANSWERS, empty=None, default="unknown")
    burn_through = choice(
        "Burn-through",
        [*_ANSWERS, (NOT_APPLICABLE, "does not apply: solid substrate")],
        empty=None,
        default="unknown",
    )
    no_flames_above_rig = choice("No flames above the rig", _ANSWERS, empty=None, default="unknown")
    no_early_end = choice("Not ended early", _ANSWERS, empty=None, default="unknown")
    observations = TextAreaField(
        "Observations", description="Collapse, falling debris, fires on the ground…", **told(5000)
    )
    printed_outcome = choice(
        "Outcome as the report prints it", _words(Outcome), empty=None, default="not-told"
    )
    class_document = StringField(
        "Classification document", description="Empty where there is none.", **told(60)
    )
    class_edition = StringField("Its edition", **told(60))
    class_annex = StringField("Its annex", **told(10))
    class_report = StringField("Classification report", **told(100))
    standing = choice("Standing", _words(Standing), empty=None, default="live")
    standing_note = TextAreaField("Why, when it is not live or no longer failed", **told(2000))
    holding = choice("How the report is held", _words(Holding), empty=None, default="not-seen")
    consent = choice("The sponsor's consent", _words(Consent), empty=None, default="not-asked")
    leans_on = StringField(
        "Leans on",
        description='References of other tests, separated by ";".',
        **told(600, wrong_in=wrong_in_references),
    )
    source = StringField("Source", **told(300))

    @classmethod
    def filled(cls, facts: TestFacts | None, revision: int = 0, **more: Any) -> TestForm:
        """The form for a test, or for a new one."""
        values: dict[str, Any] = {"revision": str(revision)}
        if facts is not None:
            values |= {key: getattr(facts, key) for key in (*_TEXTS, *_PLAIN)}
            values |= {key: getattr(facts, key) or NOT_APPLICABLE for key in _CRITERIA}
            values |= {key: getattr(facts, key) for key in _ENUMS}
            values |= {"leans_on": "; ".join(facts.leans_on)} | wall_values(facts.build_up)
        form = cls(data=values, **more)
        form.offer()
        return form

    def offer_holders(self, holders: list[tuple[int, str]]) -> None:
        """The organisations to choose from; without a choice to make, none is asked."""
        if not holders:
            del self.holder
        else:
            self.holder.choices = offered((str(key), name) for key, name in holders)

    def facts(self) -> TestFacts:
        """What the form says, once it is valid."""
        parts = (part.strip() for part in (self.leans_on.data or "").split(";"))
        values: dict[str, Any] = {key: self[key].data or "" for key in _TEXTS}
        values |= {key: self[key].data for key in _PLAIN}
        values |= {key: _answer(self[key].data) for key in _CRITERIA}
        values |= {key: kind(self[key].data) for key, kind in _ENUMS.items()}
        return TestFacts(
            **values,
            leans_on=tuple(dict.fromkeys(part for part in parts if part)),
            build_up=self.read_wall(),
        )


def _answer(word: str) -> Answer3 | None:
    return None if word == NOT_APPLICABLE else Answer3(word)


_ENUMS: dict[str, type[StrEnum]] = {
    "kind": EvidenceKind,
    "printed_outcome": Outcome,
    "standing": Standing,
    "holding": Holding,
    "consent": Consent,
}
