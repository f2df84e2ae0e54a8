"""What other software says of the same pulls: statsmodels at once, R by a file that a statistician runs."""
