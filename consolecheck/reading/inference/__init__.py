"""What the words of an unknown device's text mean: layouts to typed readings, or to unread lines.

`words` knows the trade's vocabulary, `values` reads cells, `record` makes one reading out of the fields
of one thing, `grids`, `lists` and `trees` find those fields in the three layouts, `text` is the whole.
Precision goes before recall: what is not clear is left unread with the reason.
"""
