"""The sheets of large-scale tests and of the walls they tested."""

from __future__ import annotations

from portfolio.domain.evidence import Answer3, Consent, EvidenceKind, Holding, Outcome, Standing
from portfolio.sheets.columns import DATE, Column, Sheet, ref, words
from portfolio.sheets.layout_walls import LAYER_COLUMNS, WALL_COLUMNS

NOT_APPLICABLE_WORD = "not-applicable"
_ANSWERS = tuple(Answer3)
_HELD_BY = ref("held_by", "Held by", "Reference of the organisation whose record this is.")
_TEST = ref("test", "Test", "The holder's reference of the test, the same in both sheets.")

TESTS = Sheet(
    "tests",
    "Tests",
    "One row for each large-scale test of a wall.",
    (
        _HELD_BY,
        _TEST,
        Column("title", "Title", "What was tested, in a few words.", longest=300),
        words(
            "kind",
            "Kind",
            tuple(EvidenceKind),
            "A test, or an assessment that leans on tests. Empty: test, or as it was.",
        ),
        Column("author", "Author", "Who wrote the assessment.", longest=200),
        Column("laboratory", "Laboratory", "Who tested it.", longest=200),
        Column(
            "sponsor", "Sponsor", "Who ordered the test and may let others lean on it.", longest=200
        ),
        Column("standard", "Standard", "The test standard, such as BS 8414.", longest=60),
        Column("part", "Part", "Its part, such as 1.", longest=10),
        Column("edition", "Edition", "Its edition, such as 2015+A1:2017.", longest=60),
        Column("tested_on", "Tested on", DATE),
        Column("run_seconds", "Run time (s)", "From ignition to the end, in whole seconds."),
        Column("report_ref", "Report", "The laboratory's reference of the report.", longest=100),
        Column("report_issue", "Report issue", "Its issue or revision.", longest=40),
        Column("report_on", "Report date", DATE),
        words("external_spread", "External spread", _ANSWERS, "Whether the limit was met."),
        words("internal_spread", "Internal spread", _ANSWERS, "Whether the limit was met."),
        words(
            "burn_through",
            "Burn-through",
            (*_ANSWERS, NOT_APPLICABLE_WORD),
            "Whether the limit was met; not-applicable on a solid substrate.",
        ),
        words(
            "no_flames_above_rig",
            "No flames above rig",
            _ANSWERS,
            "met when no flames rose above the rig at any time.",
        ),
        words("no_early_end", "Not ended early", _ANSWERS, "met when the test ran its full time."),
        Column("observations", "Observations", "What else was seen: collapse, falling debris…"),
        words(
            "printed_outcome",
            "Printed outcome",
            tuple(Outcome),
            "The outcome as the report prints it. Empty: not told.",
        ),
        Column(
            "class_document", "Classification document", "Such as BR 135. Empty: none.", longest=60
        ),
        Column("class_edition", "Classification edition", "Its edition.", longest=60),
        Column("class_annex", "Classification annex", "Its annex, such as A.", longest=10),
        Column(
            "class_report",
            "Classification report",
            "Reference of the classification report.",
            longest=100,
        ),
        words(
            "standing",
            "Standing",
            tuple(Standing),
            "Whether it still stands. Empty: live, or as it was.",
        ),
        Column("standing_note", "Standing note", "Why, when it is not live, or no longer failed."),
        words("holding", "Holding", tuple(Holding), "How the report is held. Empty: not-seen."),
        words(
            "consent",
            "Consent",
            tuple(Consent),
            "Whether the sponsor lets the holder lean on it. Empty: not-asked.",
        ),
        Column(
            "consent_given_to",
            "Consent given to",
            'References of other organisations that may lean on it, separated by ";". Each takes '
            "effect only if an organisation of that reference is registered; nothing tells "
            "whether one is.",
        ),
        Column(
            "leans_on",
            "Leans on",
            'References of other tests that this evidence leans on, separated by ";".',
        ),
        *WALL_COLUMNS,
        Column("source", "Source", "The document that this row is taken from.", longest=300),
    ),
)

TESTED_LAYERS = Sheet(
    "tested_layers",
    "Tested layers",
    "One row for each layer of a tested wall, from the inside out.",
    (_HELD_BY, _TEST, *LAYER_COLUMNS),
)
