"""From two snapshots to a verdict. Pure: no disk, clock, environment or print anywhere below."""
