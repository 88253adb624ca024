"""The caution that stands on every page, export and pack."""

CAUTION = (
    "This program organises evidence. Decisions rest with competent fire engineers and with the "
    "law where the building stands. Covered means only that this wall was tested: it is not an "
    "appraisal outcome and not a works status, and the absence of a gap is not safety. If people "
    "may be at risk now, tell the fire service and act on interim measures first."
)
