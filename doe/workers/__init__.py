"""Who does the work: this process, several, or the machines of a cluster. One pool for archives and rehearsals alike.

What is to be done comes from the rooms above as a function of one thing; nothing here knows what a day is.
"""
