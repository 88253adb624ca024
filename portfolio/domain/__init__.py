"""The trade, pure: no files, no clock, no current user. Dates and actors are arguments."""
