"""What is due where no pull is: what comes after the last one, and where a day stands against its hours."""
