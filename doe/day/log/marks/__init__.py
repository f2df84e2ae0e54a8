"""What the journal has besides rows: what was asked about a pull and what was answered, and when the day was closed."""
