"""The day file and the plan file: TOML, CSV and JSON in, checked and frozen models out, and their seal."""
