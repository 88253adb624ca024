"""Invented works on invented buildings, and the interim measures of some of them."""

from __future__ import annotations

from walls import Cells

_KEYS = (
    *("building", "works", "works_title", "works_zones", "decided", "decided_reason"),
    *("works_status", "works_status_date", "built_on", "programme", "responsible"),
    *("funding_route", "cost_estimate", "cost_outturn", "due_on", "due_reason"),
    *("residents_told_on", "residents_next_on"),
)

_ROWS = (
    "HV-01|W-1|survey of the balconies|S-balcony|survey||appraised|2025-06-18||||service charge"
    "|4200||2026-10-30|own programme|2025-07-01|2026-12-15",
    "HV-02|W-1|new rainscreen||replacement||planned|2025-08-03||Programme A|building safety team"
    "|programme A, owner's share|640000||2027-05-31|contract|2025-09-10|2026-12-10",
    "HV-03|W-1|new rainscreen, north and south|N-main; S-main|replacement||started|2025-05-11"
    "||Programme A|building safety team|programme A|1850000||2027-02-26|contract|2025-05-04"
    "|2026-11-04",
    "HV-03|W-2|spandrel panels|N-spandrel; S-spandrel|replacement||planned|2025-09-01||Programme B"
    "|building safety team|claim on the builder|310000||||2025-09-14|2027-01-14",
    "HV-06|W-1|engineer's assessment||assessment||identified|2025-04-22|||fire engineer|"
    "|9500||2026-12-18|own programme||",
    "CC-01|W-1|new cladding, all faces||replacement||awaiting-sign-off|2025-10-12|2025-10-05"
    "|Programme A|head of assets|programme A|5200000|5417350.40|||2025-10-13|2027-01-13",
    "CC-02|W-1|new cladding, all faces||replacement||started|2025-06-01||Programme A"
    "|head of assets|programme A|5200000||2026-11-13|contract|2025-06-02|2026-12-02",
    "CC-03|W-1|large-scale test of the wall||test||planned|2025-07-06|||head of assets|reserves"
    "|86000||2027-03-31|laboratory's offer||",
    "CC-10|W-1|||none-needed|appraised by the engineer named in the decision|appraised|2025-03-09"
    "||||||||||",
    "TS-01|W-1|new rainscreen||replacement||identified|2025-02-02||Programme B|estates office"
    "|undecided|||2026-12-31|order of the authority|2025-02-16|2026-08-16",
)

WORKS: list[Cells] = [dict(zip(_KEYS, row.split("|"), strict=True)) for row in _ROWS]
