"""Use cases, one module a job: gather rows, let the domain decide, write what should be so."""
