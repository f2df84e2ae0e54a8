"""The run sheet as a page to print and as a spreadsheet to fill in."""
