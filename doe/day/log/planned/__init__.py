"""The plan in the journal, and its files: views of it."""
