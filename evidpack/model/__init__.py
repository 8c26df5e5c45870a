"""What the trade talks about: items, records, readings, stamps, findings. Values only."""
