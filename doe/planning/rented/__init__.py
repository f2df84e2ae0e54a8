"""Several rented days planned together: which question on which day, each day with its own hours and warm-up."""
