"""Sentences about published claims: the audit, its paragraphs for print, the honest test."""
