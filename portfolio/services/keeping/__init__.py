"""Backups of everything, and bringing them back."""
