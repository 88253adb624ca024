"""Passwords and one-time tokens: argon2id for what people choose, SHA-256 for what we draw."""

from __future__ import annotations

import hashlib
import os
import secrets
import unicodedata

import argon2
from argon2.profiles import CHEAPEST, RFC_9106_LOW_MEMORY

from portfolio.domain.errors import InputError, Problem

SHORTEST, LONGEST = 12, 128
_TOO_EASY = frozenset({"password", "123456789", "qwerty", "letmein", "portfolio", "abcdefgh"})
# a shorter part of an address occurs in good passwords by chance
_SHORTEST_MAILBOX = 4

# tests sign in hundreds of times; the cheap profile is only ever chosen by this variable
_PROFILE = CHEAPEST if os.environ.get("PORTFOLIO_CHEAP_HASHING") == "1" else RFC_9106_LOW_MEMORY
_hasher = argon2.PasswordHasher.from_parameters(_PROFILE)
_NOBODY = _hasher.hash(secrets.token_hex())


def check_password(password: str, email: str) -> None:
    """Refuse a password that is too short, too long or too easy. Raises InputError."""
    folded = password.casefold()
    mailbox = email.split("@", maxsplit=1)[0]
    if not SHORTEST <= len(password) <= LONGEST:
        message = "The password is too short or too long."
    elif any(easy in folded for easy in _TOO_EASY) or (
        len(mailbox) >= _SHORTEST_MAILBOX and mailbox in folded
    ):
        message = "The password is too easy to guess."
    elif len(set(folded)) < SHORTEST // 2:
        message = "The password repeats too few characters."
    else:
        return
    expected = f"{SHORTEST} to {LONGEST} characters, not your address, not a common password"
    raise InputError([Problem(message, expected, column="password")])


def hashed(password: str) -> str:
    """What is stored of a password."""
    return _hasher.hash(_evened(password))


def is_right(password_hash: str | None, password: str) -> bool:
    """Whether the password fits; as slow for nobody as for somebody."""
    try:
        _hasher.verify(password_hash or _NOBODY, _evened(password))
    except (argon2.exceptions.VerificationError, argon2.exceptions.InvalidHashError):
        return False
    return password_hash is not None


def _evened(password: str) -> str:
    """The same letters typed on different machines are the same password."""
    return unicodedata.normalize("NFC", password)


def wants_new_hash(password_hash: str) -> bool:
    """Whether the hash was made with less effort than is asked for now."""
    return _hasher.check_needs_rehash(password_hash)


def new_token() -> str:
    """A token nobody can guess, for a cookie or a link."""
    return secrets.token_urlsafe(32)


def token_hash(token: str) -> str:
    """What is stored of a token: it cannot be turned back."""
    return hashlib.sha256(token.encode()).hexdigest()
