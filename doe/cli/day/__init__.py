"""Commands that prepare a day or plan the rest of it."""
