"""The physics of the test cell: units, air, correction standards, traces, the metrics of a pull.

Functions of arguments only: no file of ours is known here, and nothing of days, plans or verdicts.
"""
