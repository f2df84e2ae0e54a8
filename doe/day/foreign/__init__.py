"""Tables as people have them: where the header is, what parts the columns, which rows are no pulls."""
