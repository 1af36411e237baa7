"""Shows what was read and judged: terminal text and exchange formats. Decides nothing."""
