"""What a tester would rather have of a plan, and what that costs in questions."""
