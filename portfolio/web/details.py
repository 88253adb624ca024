"""The pages of single things, the evidence list and uploads, for the application to register."""

from __future__ import annotations

from flask import Blueprint

from portfolio.web import (
    building,
    calendars,
    certificates,
    classifying,
    comparing,
    consents,
    documents,
    documents_adding,
    evidence,
    kept_log,
    looking_back,
    orders,
    outcome,
    rules,
    ruling,
    standing,
    to_look_at,
    uploads,
    works,
    works_editing,
    zone,
)

blueprints: tuple[Blueprint, ...] = (
    building.blueprint,
    zone.blueprint,
    ruling.blueprint,
    evidence.blueprint,
    comparing.blueprint,
    classifying.blueprint,
    consents.blueprint,
    standing.blueprint,
    outcome.blueprint,
    orders.blueprint,
    rules.blueprint,
    to_look_at.blueprint,
    certificates.blueprint,
    documents.blueprint,
    kept_log.blueprint,
    documents_adding.blueprint,
    uploads.blueprint,
    looking_back.blueprint,
    works.blueprint,
    works_editing.blueprint,
    calendars.blueprint,
)
