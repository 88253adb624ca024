"""Works: recorded, listed, counted, and what of them is due."""
