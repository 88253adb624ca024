"""Who joins, who leaves, and who runs the accounts, on both databases."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from portfolio.db.changelog import broken_at
from portfolio.db.models import OrganisationKind
from portfolio.db.people import Invitation, Person, SignIn
from portfolio.domain.errors import ForbiddenError, InputError, NotFoundError
from portfolio.domain.rights import Role
from portfolio.services.accounts import joining, passwords, people, signing_in
from portfolio.services.accounts.signing_in import Signed
from portfolio.services.viewer import LOCAL
from tests.services.accounts_support import (
    NOON,
    OTHER_PASSWORD,
    PASSWORD,
    People,
    people_in,
)

ADMINISTRATOR, READER = "administrator@north.test", "reader@north.test"


@pytest.fixture
def found(database_url: str) -> Iterator[People]:
    with people_in(database_url) as people_found:
        yield people_found


def _invited(found: People, email: str = "new@north.test", **more: Any) -> str:
    values = {"name": "New", "role": Role.EDITOR, "now": NOON} | more
    viewer = found.viewer(ADMINISTRATOR)
    with found.writing() as session:
        return people.invite_person(session, viewer, email=email, **values).token


def _join(found: People, token: str, *, later: timedelta = timedelta()) -> Person:
    with found.writing() as session:
        return joining.join(session, token, OTHER_PASSWORD, NOON + later)


def _sign_in(found: People, email: str, password: str = PASSWORD) -> Any:
    return signing_in.sign_in(found.writing, email, password, address="192.0.2.1", now=NOON)


def _set_role(found: People, email: str, role: Role, *, by: str = ADMINISTRATOR) -> None:
    viewer, person = found.viewer(by), found.person(email)
    with found.writing() as session:
        people.set_role(session, viewer, person.id, role, NOON)


def _set_active(found: People, email: str, is_active: bool, *, by: str = ADMINISTRATOR) -> None:
    viewer, person = found.viewer(by), found.person(email)
    with found.writing() as session:
        people.set_active(session, viewer, person.id, NOON, is_active=is_active)


# --- One-time links ------------------------------------------------------------------------------


def test_whoever_was_invited_joins_with_the_role_they_were_given(found: People) -> None:
    person = _join(found, _invited(found))
    assert (person.email, person.name, person.role) == ("new@north.test", "New", Role.EDITOR)
    assert isinstance(_sign_in(found, "new@north.test", OTHER_PASSWORD), Signed)
    assert found.events("person")[0] == ("joined", "new@north.test")


def test_a_link_works_once(found: People) -> None:
    token = _invited(found)
    _join(found, token)
    with pytest.raises(NotFoundError, match=joining.NO_LINK):
        _join(found, token)


def test_a_link_runs_out(found: People) -> None:
    token = _invited(found)
    with pytest.raises(NotFoundError, match=joining.NO_LINK):
        _join(found, token, later=joining.VALID_FOR)


def test_a_newer_link_ends_an_older_one(found: People) -> None:
    older, newer = _invited(found), _invited(found)
    with pytest.raises(NotFoundError):
        _join(found, older)
    _join(found, newer)


def test_a_withdrawn_link_works_no_more(found: People) -> None:
    token = _invited(found)
    viewer = found.viewer(ADMINISTRATOR)
    with found.writing() as session:
        invitation = session.scalars(sa.select(Invitation)).one()
        people.withdraw(session, viewer, invitation.id, NOON)
    with pytest.raises(NotFoundError):
        _join(found, token)


def test_a_refused_password_leaves_the_link_good(found: People) -> None:
    token = _invited(found)
    with pytest.raises(InputError), found.writing() as session:
        joining.join(session, token, "too short", NOON)
    _join(found, token)


def test_the_store_holds_no_link(found: People) -> None:
    token = _invited(found)
    with found.reading() as session:
        kept = session.scalars(sa.select(Invitation)).one()
    assert kept.token_hash == passwords.token_hash(token) != token


def test_inviting_an_address_of_another_organisation_tells_nothing_and_gives_nothing(
    found: People,
) -> None:
    token = _invited(found, "reader@south.test")
    with pytest.raises(NotFoundError, match=joining.NO_LINK):
        _join(found, token)
    assert isinstance(_sign_in(found, "reader@south.test"), Signed)
    assert found.person("reader@south.test").organisation_id == found.organisation("south")


@pytest.mark.parametrize(
    "email",
    ["", "nobody", "a@b@c", "a b@c", "@host", "name@", "a@b\nBcc: x@y", "<a@b>", "a\u200b@b"],
)
def test_what_is_no_address_is_not_invited(found: People, email: str) -> None:
    with pytest.raises(InputError, match="no e-mail address"):
        _invited(found, email)


def test_a_new_password_by_link_ends_every_browser(found: People) -> None:
    _sign_in(found, READER)
    viewer, person = found.viewer(ADMINISTRATOR), found.person(READER)
    with found.writing() as session:
        token = people.link_for(session, viewer, person.id, NOON).token
    _join(found, token)
    with found.reading() as session:
        assert session.scalars(sa.select(SignIn)).all() == []
    assert isinstance(_sign_in(found, READER, OTHER_PASSWORD), Signed)
    assert found.person(READER).role == Role.READER


# --- Roles ---------------------------------------------------------------------------------------


def test_a_role_is_changed_at_once_and_logged_with_both(found: People) -> None:
    _set_role(found, READER, Role.ENGINEER)
    assert found.person(READER).role == Role.ENGINEER
    assert found.events("person") == [("role changed", READER)]


def test_a_role_taken_away_does_not_come_back_by_an_older_link(found: People) -> None:
    viewer, person = found.viewer(ADMINISTRATOR), found.person("engineer@north.test")
    with found.writing() as session:
        token = people.link_for(session, viewer, person.id, NOON).token
    _set_role(found, "engineer@north.test", Role.READER)
    with pytest.raises(NotFoundError):
        _join(found, token)


@pytest.mark.parametrize("role", [Role.READER, Role.EDITOR, Role.ENGINEER])
def test_only_administrators_run_accounts(found: People, role: Role) -> None:
    viewer = found.viewer(f"{role.value}@north.test")
    other = found.person(READER).id
    with found.writing() as session:
        for forbidden in (
            lambda: people.list_people(session, viewer, NOON),
            lambda: people.set_role(session, viewer, other, Role.ADMINISTRATOR, NOON),
            lambda: people.set_active(session, viewer, other, NOON, is_active=False),
            lambda: people.link_for(session, viewer, other, NOON),
            lambda: people.withdraw(session, viewer, 1, NOON),
            lambda: people.invite_person(
                session, viewer, email="a@b", name="", role=Role.READER, now=NOON
            ),
        ):
            with pytest.raises(ForbiddenError):
                forbidden()


def test_people_of_others_answer_like_people_that_do_not_exist(found: People) -> None:
    viewer = found.viewer(ADMINISTRATOR)
    foreign = found.person("reader@south.test").id
    told = set()
    with found.writing() as session:
        for person_id in (foreign, 99_999):
            with pytest.raises(NotFoundError) as error:
                people.set_role(session, viewer, person_id, Role.EDITOR, NOON)
            told.add(str(error.value))
    assert len(told) == 1


def test_an_administrator_sees_the_own_people_only(found: People) -> None:
    _invited(found)
    with found.reading() as session:
        listed = people.list_people(session, found.viewer(ADMINISTRATOR), NOON)
        other = people.list_people(session, found.viewer("administrator@south.test"), NOON)
    assert {row.person.email.partition("@")[2] for row in listed.rows} == {"north.test"}
    assert [one.email for one in listed.invitations] == ["new@north.test"]
    assert other.invitations == []


def test_there_are_no_people_where_nobody_signs_in(found: People) -> None:
    with found.reading() as session, pytest.raises(NotFoundError):
        people.list_people(session, LOCAL, NOON)


# --- The last administrator ----------------------------------------------------------------------


def test_the_last_administrator_keeps_the_role(found: People) -> None:
    with pytest.raises(InputError, match="at least one active administrator"):
        _set_role(found, ADMINISTRATOR, Role.READER)


def test_the_last_administrator_stays_active(found: People) -> None:
    with pytest.raises(InputError, match="at least one active administrator"):
        _set_active(found, ADMINISTRATOR, False)


def test_a_deactivated_administrator_does_not_count(found: People) -> None:
    _set_role(found, READER, Role.ADMINISTRATOR)
    _set_active(found, READER, False)
    with pytest.raises(InputError):
        _set_active(found, ADMINISTRATOR, False)


def test_with_another_one_an_administrator_may_go(found: People) -> None:
    _set_role(found, READER, Role.ADMINISTRATOR)
    _set_active(found, ADMINISTRATOR, False, by=READER)
    assert not found.person(ADMINISTRATOR).is_active


def test_the_last_administrator_does_not_lose_the_role_by_a_link(found: People) -> None:
    token = _invited(found, ADMINISTRATOR, role=Role.READER)
    assert _join(found, token).role == Role.ADMINISTRATOR


# --- Leaving and coming back ---------------------------------------------------------------------


def test_whoever_is_deactivated_is_signed_out_and_cannot_sign_in(found: People) -> None:
    signed = _sign_in(found, READER)
    _set_active(found, READER, False)
    with found.reading() as session:
        assert signing_in.open_sign_in(session, signed.token, NOON) is None
    assert not isinstance(_sign_in(found, READER), Signed)
    _set_active(found, READER, True)
    assert isinstance(_sign_in(found, READER), Signed)
    assert [action for action, _ in found.events("person")] == [
        "signed in",
        "deactivated",
        "reactivated",
        "signed in",
    ]


def test_nobody_deactivated_gets_a_link(found: People) -> None:
    _set_active(found, READER, False)
    viewer, person = found.viewer(ADMINISTRATOR), found.person(READER)
    with found.writing() as session, pytest.raises(InputError, match="reactivate"):
        people.link_for(session, viewer, person.id, NOON)


def test_nothing_changes_and_nothing_is_logged_where_it_is_so_already(found: People) -> None:
    _set_role(found, READER, Role.READER)
    _set_active(found, READER, True)
    assert found.events("person") == []


# --- The first administrator ---------------------------------------------------------------------


def _first(found: People, ref: str, email: str = "first@new.test") -> str:
    with found.writing() as session:
        return joining.first_administrator(
            session,
            organisation_ref=ref,
            organisation_name="",
            kind=OrganisationKind.OWNER,
            email=email,
            name="First",
            now=NOON,
        ).token


def test_a_new_organisation_gets_its_first_administrator(found: People) -> None:
    person = _join(found, _first(found, "new"))
    assert (person.role, person.organisation_id) == (Role.ADMINISTRATOR, found.organisation("new"))
    assert ("created", "new") in found.events("organisation")


def test_an_organisation_with_an_administrator_gets_no_first_one(found: People) -> None:
    with pytest.raises(InputError, match="has an administrator already"):
        _first(found, "north")


def test_only_the_newest_link_makes_a_first_administrator(found: People) -> None:
    older, newer = _first(found, "new", "one@new.test"), _first(found, "new", "two@new.test")
    with pytest.raises(NotFoundError):
        _join(found, older)
    assert _join(found, newer).email == "two@new.test"


def test_an_address_of_another_organisation_is_no_first_administrator(found: People) -> None:
    with pytest.raises(InputError, match="has an account elsewhere"):
        _first(found, "new", READER)


def test_a_reader_becomes_the_administrator_where_none_is_left(found: People) -> None:
    with found.writing() as session:
        session.execute(
            sa.update(Person).where(Person.email == ADMINISTRATOR).values(is_active=False)
        )
    assert _join(found, _first(found, "north", READER)).role == Role.ADMINISTRATOR


def test_everything_that_was_done_stands_in_an_unbroken_log(found: People) -> None:
    _join(found, _invited(found))
    _set_role(found, READER, Role.EDITOR)
    with found.reading() as session:
        assert broken_at(session) is None


# --- Passwords -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("password", "words"),
    [
        ("short", "too short"),
        ("x" * 129, "too long"),
        ("my Password is fine", "too easy"),
        ("somebody loves tea", "too easy"),
        ("abababababababab", "too few"),
    ],
)
def test_a_weak_password_is_refused(password: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        passwords.check_password(password, "somebody@north.test")


def test_a_short_mailbox_may_occur_in_a_password_by_chance() -> None:
    passwords.check_password("an apple on a table", "a@north.test")


def test_the_same_letters_typed_differently_are_the_same_password() -> None:
    composed, decomposed = "zwölf grüne Äpfel", "zwölf grüne Äpfel"
    assert passwords.is_right(passwords.hashed(composed), decomposed)


def test_no_password_fits_nobody() -> None:
    assert not passwords.is_right(None, "")
