"""Commands of the desk: judging, studying, reporting, auditing."""
