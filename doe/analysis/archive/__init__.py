"""Many days: folders of days in, their pooled noise and their verdicts out, at constant memory."""
