"""Published claims: their arithmetic, their evidence, several tests of one change pooled.

Judges what others have printed, by the verdict rule of ``doe.analysis``. Days of one's own do not belong here.
"""
