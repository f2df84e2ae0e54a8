"""The sentences of noise studies and archives: numbers come in, lines and notes go out."""
