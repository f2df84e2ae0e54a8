"""A column of a table as a whole: it proves what its numbers and times are, or is refused."""
