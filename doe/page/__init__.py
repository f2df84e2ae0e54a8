"""The page for the phone or tablet in the cell.

Shows what ``doe.day`` says comes next and logs through it; keeps no state of its own.
"""
