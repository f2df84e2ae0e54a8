"""Commands of the cell: what comes next, and the log."""
