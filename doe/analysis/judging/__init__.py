"""From pulls to verdicts: a trial and its readings in, one judgement with a verdict for each change out."""
