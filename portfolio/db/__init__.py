"""Storage: models by subject, sessions, the change log, and the only bridge to the domain."""
