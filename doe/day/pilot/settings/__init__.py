"""What a command writes into day.toml, under the lock of the folder."""
