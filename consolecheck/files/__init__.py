"""Everything that touches the disk to find dialects, fixtures and captured texts."""
