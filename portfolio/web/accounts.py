"""The pages of people, of sharing and of the change log, for the application to register."""

from __future__ import annotations

from flask import Blueprint

from portfolio.web import accounts_log, accounts_own, people, sharing, signing_in

blueprints: tuple[Blueprint, ...] = (
    signing_in.blueprint,
    accounts_own.blueprint,
    people.blueprint,
    sharing.blueprint,
    accounts_log.blueprint,
)
