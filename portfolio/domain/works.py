"""Works on a façade: what is decided, how far it has come, and what each status asks for.

A status of works is a fact of its own: it says nothing of coverage, of an appraisal's outcome, or
of whether a building is safe.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum


class Decided(StrEnum):
    """What is to be done about a wall."""

    NOT_DECIDED = "not-decided"
    SURVEY = "survey"
    ASSESSMENT = "assessment"
    TEST = "test"
    REPLACEMENT = "replacement"
    NONE_NEEDED = "none-needed"

    @property
    def label(self) -> str:
        """The word on screen."""
        return _DECIDED[self]


_DECIDED = {
    Decided.NOT_DECIDED: "not decided yet",
    Decided.SURVEY: "survey",
    Decided.ASSESSMENT: "engineer's assessment",
    Decided.TEST: "test",
    Decided.REPLACEMENT: "replacement",
    Decided.NONE_NEEDED: "none needed",
}


class WorksStatus(StrEnum):
    """How far works have come, in the order in which they go.

    As the English government's monthly statistics on remediation of unsafe cladding tell them
    apart.
    """

    IDENTIFIED = "identified"
    APPRAISED = "appraised"
    PLANNED = "planned"
    STARTED = "started"
    AWAITING_SIGN_OFF = "awaiting-sign-off"
    COMPLETE = "complete"

    @property
    def place(self) -> int:
        """Its place in the order, from 0."""
        return _PLACE[self]

    @property
    def label(self) -> str:
        """The words on screen."""
        return _STATUS[self]

    @property
    def is_built(self) -> bool:
        """Whether the building work itself is done."""
        return self.place >= WorksStatus.AWAITING_SIGN_OFF.place


_STATUS = {
    WorksStatus.IDENTIFIED: "identified",
    WorksStatus.APPRAISED: "appraised",
    WorksStatus.PLANNED: "plan in place",
    WorksStatus.STARTED: "started",
    WorksStatus.AWAITING_SIGN_OFF: "complete, awaiting sign-off",
    WorksStatus.COMPLETE: "complete",
}

_PLACE = {status: place for place, status in enumerate(WorksStatus)}


@dataclass(frozen=True, slots=True)
class Step:
    """One status that works reached, on the day that it did."""

    status: WorksStatus
    on: date


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of works when a status is to be recorded.

    `built_on` is the day on which the new build-up was complete; `surveyed` has, for each zone of
    the works, the days of its surveys; `papers` counts the documents that support the completion.
    """

    decided: Decided
    decided_reason: str = ""
    built_on: date | None = None
    papers: int = 0
    surveyed: Mapping[str, Collection[date]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Objection:
    """Why a status cannot be recorded; `about` is the fact that it hangs on."""

    about: str
    message: str
    expected: str = ""


def objections(
    last: Step | None, new: Step, known: Standing, reason: str, today: date
) -> tuple[Objection, ...]:
    """Everything that keeps a status from being recorded; nothing where it may be.

    `reason` is that of this step. A status that goes back asks for one, and so does a decision that
    none is needed: the history is kept, and says why.
    """
    found = [*_of_dates(last, new, today), *_of_decision(new.status, known)]
    if last is not None and new.status.place < last.status.place and not reason:
        found.append(
            Objection(
                "reason", f"This goes back from “{last.status.label}”.", "the reason for going back"
            )
        )
    if new.status.is_built and known.built_on is None:
        found.append(
            Objection(
                "built_on",
                f"“{new.status.label.capitalize()}” needs the day of the new build-up.",
                "the day on which the new build-up was complete",
            )
        )
    if new.status.is_built and known.built_on is not None and known.built_on > new.on:
        message = f"The new build-up would be complete only on {known.built_on.isoformat()}."
        found.append(Objection("on", message, "that day or a later one"))
    if new.status is WorksStatus.COMPLETE:
        found += lacking_for_complete(known)
    return tuple(found)


def lacking_for_complete(known: Standing) -> tuple[Objection, ...]:
    """What works still lack to be, or to stay, complete: papers, and surveys of what was built."""
    found = []
    if not known.papers:
        found.append(
            Objection(
                "status",
                "No document supports the completion.",
                "a document, such as the sign-off of building control, added to “completion”",
            )
        )
    if not known.surveyed:
        found.append(Objection("status", "The works have no zone of which a survey could speak."))
    if known.built_on is not None:
        late = [
            zone
            for zone, days in sorted(known.surveyed.items())
            if not any(day >= known.built_on for day in days)
        ]
        if late:
            found.append(
                Objection(
                    "status",
                    f"No survey of the new build-up is recorded of {', '.join(late)}.",
                    f"a survey of {known.built_on.isoformat()} or later of each zone",
                )
            )
    return tuple(found)


def _of_dates(last: Step | None, new: Step, today: date) -> list[Objection]:
    found = []
    if new.on > today:
        found.append(Objection("on", "This day has not come yet.", "today or an earlier day"))
    if last is not None and new.on < last.on:
        message = f"“{last.status.label.capitalize()}” was reached on {last.on.isoformat()}."
        found.append(Objection("on", message, "that day or a later one"))
    return found


def _of_decision(status: WorksStatus, known: Standing) -> list[Objection]:
    """Only a replacement is built, and only what is decided has a plan (ours)."""
    decided = known.decided
    if status.place >= WorksStatus.STARTED.place and decided is not Decided.REPLACEMENT:
        return [
            Objection(
                "status",
                f"“{status.label.capitalize()}” is said of building work, and what is decided "
                f"here is: {decided.label}.",
                "“replacement” as what is decided, or a status up to “plan in place”",
            )
        ]
    if status is WorksStatus.PLANNED and decided in (Decided.NOT_DECIDED, Decided.NONE_NEEDED):
        message = f"There is no plan where what is decided is: {decided.label}."
        return [Objection("status", message, "what is planned as what is decided")]
    if decided is Decided.NONE_NEEDED and not known.decided_reason:
        expected = "the reason, and who decided"
        return [Objection("decided_reason", "None needed is a decision.", expected)]
    return []
