"""The day under way: what a tester says in, the logged pull and the next step out."""
