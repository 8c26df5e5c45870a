"""Rule sets: every limit that a check applies, with its unit, its source and its standing."""
