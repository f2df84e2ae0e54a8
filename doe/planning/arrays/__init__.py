"""The day as arrays: a day file in, candidate configurations, clocks and the worth of many plans at once out."""
