"""What was read and what was judged: frozen values, no behaviour that touches the world."""
