"""Evidence: the printed numbers of a claim in, what they are worth out."""
