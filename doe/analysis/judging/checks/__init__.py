"""What a reader of a verdict must know: a fitted trial in, notes on what it hangs on and what contradicts it out."""
