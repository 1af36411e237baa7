"""A first dialect from one capture of a device that nobody described: what inference read, as templates and a manifest.

`places` finds where each fact of an inferred reading stands in its lines, `rules` makes of those lines rules that
claim lines like them, `draft` puts a dialect together and reads the capture with it, `told` writes what a person must
still decide. A draft reads what inference read and nothing else: a table for which that cannot be shown is left out.
"""
