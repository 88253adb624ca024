"""The forms of accounts: signing in, passwords, inviting, sharing."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, Self

from flask import request
from wtforms import EmailField, PasswordField, RadioField, StringField
from wtforms.validators import DataRequired, EqualTo, Length

from portfolio.db.models import Organisation
from portfolio.domain.rights import Access, Role
from portfolio.services.accounts.passwords import LONGEST, SHORTEST
from portfolio.services.sharing import GrantWanted
from portfolio.web.form_fields import WHOLE, DayField, choice, offered, told
from portfolio.web.page_form import PageForm

ROLES = (
    (Role.READER, "reader: sees everything"),
    (Role.EDITOR, "editor: also enters and changes"),
    (Role.ENGINEER, "engineer: also records decisions and rules"),
    (Role.ADMINISTRATOR, "administrator: enters, changes, and runs accounts and sharing"),
)
ACCESSES = (
    (Access.READ, "read only"),
    (Access.EDIT, "read, change, and record decisions"),
)
MOST_CHOSEN = 5000
_ADDRESS = "Give the e-mail address."
_LONGEST_GUESS = 1000


def _password(label: str, autocomplete: str, *more: Any, **given: Any) -> PasswordField:
    longest = Length(max=_LONGEST_GUESS, message=f"Give at most {LONGEST} characters.")
    checks = [DataRequired("Give a password."), longest, *more]
    return PasswordField(
        label, validators=checks, render_kw={"autocomplete": autocomplete}, **given
    )


class AccountForm(PageForm):
    """A form of accounts."""

    @classmethod
    def of_request(cls) -> Self:
        """The form as it was sent; empty where nothing was."""
        return cls()

    @classmethod
    def empty(cls) -> Self:
        """The form with nothing in it, whatever was sent."""
        return cls(formdata=None)

    @property
    def is_good(self) -> bool:
        """Whether it was sent and can be used."""
        return request.method == "POST" and bool(self.validate())


class SignInForm(AccountForm):
    """Address and password."""

    email = EmailField(
        "E-mail", **told(200, required=_ADDRESS), render_kw={"autocomplete": "username"}
    )
    password = _password("Password", "current-password")


class NewPasswordForm(AccountForm):
    """A password chosen through a one-time link."""

    password = _password(
        "New password",
        "new-password",
        description=f"{SHORTEST} to {LONGEST} characters. Several words that do not belong "
        "together are easy to remember and hard to guess.",
    )
    again = _password(
        "The same again", "new-password", EqualTo("password", "The two are not the same.")
    )


class ChangePasswordForm(NewPasswordForm):
    """A new password beside the present one."""

    present = _password("Present password", "current-password")


class InviteForm(AccountForm):
    """Somebody who is to join."""

    email = EmailField("E-mail", **told(200, required=_ADDRESS))
    name = StringField("Name", **told(200, required="Give the name that others are to see."))
    role = choice("Role", [(role.value, words) for role, words in ROLES], empty=None)


class GrantForm(AccountForm):
    """Buildings for a consultancy; which buildings stands in the request beside it."""

    text = StringField("Find buildings: words in reference, name or address", **told(200))
    consultancy = choice(
        "Consultancy", (), empty="choose one", validators=[DataRequired("Choose a consultancy.")]
    )
    access = RadioField("Access", choices=offered([(a.value, words) for a, words in ACCESSES]))
    from_day = DayField("From", required=True, description="The first day, such as 2026-03-01.")
    until_day = DayField("Until", description="The last day. Empty: until you take it back.")

    @classmethod
    def with_partners(cls, partners: Sequence[Organisation], on: date) -> GrantForm:
        """The form over the consultancies that there are; before it is sent, from today."""
        form = cls(from_day=on, access=Access.READ.value)
        words = [(found.ref, f"{found.name} ({found.ref})") for found in partners]
        form.consultancy.choices = offered([("", "choose one"), *words])
        return form

    def wanted(self, chosen: Sequence[int]) -> GrantWanted:
        """The grant that the form describes."""
        return GrantWanted(
            tuple(chosen),
            self.consultancy.data,
            Access(self.access.data),
            self.from_day.data,
            self.until_day.data,
        )


def chosen_ids() -> list[int]:
    """The ticked buildings of the request; what is no number stands for none that there is."""
    given = request.form.getlist("building")[:MOST_CHOSEN]
    return [int(text) if WHOLE.fullmatch(text) else 0 for text in given]
