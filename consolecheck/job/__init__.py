"""A swap as a job: its folder, and the loop that drives a console."""
