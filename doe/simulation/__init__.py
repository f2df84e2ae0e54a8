"""A simulated test cell with known truths: the demo day, rehearsals of a plan. Everything made here is invented.

Real pulls never pass through this room.
"""
