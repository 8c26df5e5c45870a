"""Days with exactly one fault each, made by editing the bytes of an invented export."""
