"""Twenty people at once, each a process of its own: nothing is lost, and nobody is turned away."""

import os
from collections import Counter
from contextlib import ExitStack

import sqlalchemy as sa
from sqlalchemy.orm import Session

from portfolio.db import models
from portfolio.db.session import engine_for
from tests.robust.processes import working
from tests.robust.wholeness import faults_of, looking_into
from tests.robust.worker import Lived, estate, live, take_in_estate

PEOPLE = 20
SECONDS = float(os.environ.get("PORTFOLIO_CROWD_SECONDS", "20"))
_LONGEST_WAIT = 90


def _lived(url: str, people: int, seconds: float) -> list[Lived]:
    """What everybody did who edited and looked at the same time."""
    with ExitStack() as stack:
        workers = [
            stack.enter_context(working(live, url, f"Person {number}", seconds))
            for number in range(people)
        ]
        for worker in workers:
            worker.wait_until_ready()
        for worker in workers:
            worker.tell("go")
        return [worker.hear(seconds + _LONGEST_WAIT) for worker in workers]


def test_twenty_people_at_once_lose_nothing_and_are_never_turned_away(database_url: str) -> None:
    engine = engine_for(database_url)
    take_in_estate(engine, estate("FIRST"))
    engine.dispose()

    lived = _lived(database_url, PEOPLE, SECONDS)

    assert Counter(failure for person in lived for failure in person.failures) == {}
    assert all(person.saved for person in lived), [len(person.saved) for person in lived]
    saved = Counter(note for person in lived for note in person.saved)
    with looking_into(database_url) as session:
        assert faults_of(session) == []
        rows = session.execute(
            sa.select(models.Event.changes).where(models.Event.actor.startswith("Person "))
        )
        logged = Counter(
            str(changes[key][1])
            for (changes,) in rows
            for key in ("note", "description", "source", "ruling")
            if key in changes
        )
        assert logged == saved
        assert _kept(session) <= saved.keys()


def _kept(session: Session) -> set[str]:
    """The notes in the things themselves."""
    places = (
        models.Building.note,
        models.Zone.description,
        models.Survey.source,
        models.Decision.ruling,
    )
    found = {text for place in places for text in session.scalars(sa.select(place))}
    return {text for text in found if text.startswith("Person ")}
