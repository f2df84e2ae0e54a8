"""The search: the day as arrays in, the best plan and the orders that it may be drawn from out."""
