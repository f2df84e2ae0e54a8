"""What a tired tester does, and what helps: what was logged, what looks wrong, and mending it."""
