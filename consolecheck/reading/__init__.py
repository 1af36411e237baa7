"""From raw bytes to typed readings. Pure: no disk, clock, environment or print anywhere below."""
