"""Decisions about every sealed entry, and the pack that follows from them."""
