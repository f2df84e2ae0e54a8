"""Every sentence that a person reads about a result, and how its numbers are written.

Enters: numbers, strings, and objects that have the attributes a sentence needs. Leaves: text. The lowest room but
`doe.errors`: it knows no result and loads no library, so that every room may speak through it.
"""
