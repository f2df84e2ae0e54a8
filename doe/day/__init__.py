"""The day folder: day file, plan file, pull log, what a configuration is, the clock, what comes next.

Here belongs everything that reads or writes a file of the day folder, and the rules of the clock. Light by contract:
neither numpy nor pandas nor scipy, because ``doe record`` and ``doe next`` load this room and must start at once.
Statistics, searching for a plan, and text for people's eyes do not belong here.
"""
