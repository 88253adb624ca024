"""The pages of single things, the evidence list and uploads, for the application to register."""

from __future__ import annotations

from flask import Blueprint

from portfolio.web import (
    building,
    certificates,
    consents,
    documents,
    documents_adding,
    evidence,
    looking_back,
    ruling,
    uploads,
    zone,
)

blueprints: tuple[Blueprint, ...] = (
    building.blueprint,
    zone.blueprint,
    ruling.blueprint,
    evidence.blueprint,
    consents.blueprint,
    certificates.blueprint,
    documents.blueprint,
    documents_adding.blueprint,
    uploads.blueprint,
    looking_back.blueprint,
)
