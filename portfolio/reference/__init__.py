"""Rules and vocabularies as dated, sourced TOML, and the loader that refuses anything else."""
