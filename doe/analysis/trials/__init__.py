"""What is judged: a table or a day folder in, the design as arrays (a trial) and its readings out."""
