"""Many jobs judged again under another acceptance: found, spread over workers, and told in one table."""
