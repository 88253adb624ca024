"""Application rules that an organisation's engineers own: written, replaced, kept, foreseen."""
