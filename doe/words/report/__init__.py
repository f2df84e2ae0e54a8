"""The sentences of the report page."""
