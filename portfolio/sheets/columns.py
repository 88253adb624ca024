"""What a sheet and a column are: a key for the code, a header and a help text for people."""

from __future__ import annotations

from dataclasses import dataclass

LONGEST_REF = 60


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `words` is a closed list; `category` names a vocabulary of the reference data.

    `required` means that a row without it cannot be used; a sheet must have the column.
    `longest` is the most characters that are kept; 0 where there is no limit.
    """

    key: str
    header: str
    help: str
    required: bool = False
    unit: str = ""
    words: tuple[str, ...] = ()
    category: str = ""
    longest: int = 0


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet of the workbook; `key` is also the name of its CSV file."""

    key: str
    title: str
    about: str
    columns: tuple[Column, ...]

    def column(self, key: str) -> Column:
        """The column of that key."""
        return next(column for column in self.columns if column.key == key)


def ref(key: str, header: str, help_text: str) -> Column:
    """A column that says which record a row is about, and must be filled in."""
    return Column(key, header, help_text, required=True, longest=LONGEST_REF)


def words(key: str, header: str, allowed: tuple[str, ...], help_text: str) -> Column:
    """A column with a closed list of words."""
    return Column(key, header, help_text, words=allowed)


OWNER = ref("owner", "Owner", "Reference of the organisation that the building belongs to.")
BUILDING = ref("building", "Building", "Your reference of the building, the same in every sheet.")
ZONE = ref("zone", "Zone", "Your reference of the zone, unique within its building.")
YES_NO = ("yes", "no")
DATE = "A date as 2026-03-31 or 31/03/2026 (day first)."
