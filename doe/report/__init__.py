"""What people look at: figures, the HTML report, the run sheet, tables for the terminal.

Draws and prints results that other rooms have computed; computes none of its own.
"""
