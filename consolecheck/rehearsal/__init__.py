"""A simulated switch with a console: what no shelf of recorded texts can give, a chassis that answers back."""
