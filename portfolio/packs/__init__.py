"""What an evidence pack holds. Knows the domain and the drawings, not the store."""
