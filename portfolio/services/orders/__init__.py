"""Orders of gaps: which there are, where gaps stand in one, and writing one's own."""
