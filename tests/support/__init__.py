"""The machinery under tests/conftest.py: network guard, PostgreSQL, Chromium."""
