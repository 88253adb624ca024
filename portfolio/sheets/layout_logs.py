"""The tables that lie beside a logger's file: where its channels are, and what was seen."""

from __future__ import annotations

from portfolio.domain.observations import Sight
from portfolio.domain.traces import Face, Side
from portfolio.sheets.columns import YES_NO, Column, Sheet, ref, words

USES = ("yes", "no", "broken")
_TIME = "From ignition, as min:s (43:00) or in s (2580). Empty when nobody told it."

LOG_CHANNELS = Sheet(
    "channels",
    "Channels",
    "Where each channel of a logger is on the rig.",
    (
        ref("channel", "Channel", "The channel's header in the logger's file."),
        Column("level", "Level", "1, 2 or 3, counted from the opening up."),
        words("side", "Side", tuple(Side), "Before the face, or inside the wall."),
        words("face", "Face", tuple(Face), "Main face or wing."),
        Column(
            "position_mm",
            "Position (mm)",
            "From the centre line on the main face, to the left below 0; from the main face on "
            "the wing.",
        ),
        Column("layer", "Layer", "The layer or cavity of an internal one.", longest=100),
        words(
            "use",
            "Use",
            USES,
            "no: it is left out, and said to be; broken: it counts against the wall, never for it.",
        ),
        Column("unit", "Unit", "°C, and no other."),
    ),
)

LOG_OBSERVATIONS = Sheet(
    "observations",
    "Observations",
    "What was watched for at the test, seen or not.",
    (
        Column(
            "observation",
            "Observation",
            "What was watched for.",
            required=True,
            words=tuple(Sight),
        ),
        Column("seen", "Seen", "yes or no: what was not seen must be said.", True, words=YES_NO),
        Column("from", "From", _TIME),
        Column("until", "Until", _TIME),
        Column("height_m", "Height (m)", "Over the opening.", unit="m"),
        Column("note", "Note", "Where, how, and why a test was ended.", longest=1000),
    ),
)

LOG_SHEETS = (LOG_CHANNELS, LOG_OBSERVATIONS)
