"""Numerics that planning and analysis share: mixed model, small-sample inference, multiplicity, power, precision.

Arrays in, arrays out. No files, no day folder, no words for people.
"""
