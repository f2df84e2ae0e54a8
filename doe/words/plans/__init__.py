"""Sentences about plans: the plan, the worth of a study, the rehearsal."""
