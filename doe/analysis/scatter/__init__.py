"""One noise study: a trial of an untouched engine in, its scatter, drift and wander with their intervals out."""
