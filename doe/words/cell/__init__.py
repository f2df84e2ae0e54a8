"""The sentences about what the test cell shows: gauges, and files that the dyno writes."""
