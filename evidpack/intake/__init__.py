"""Reads a described export into items, records and the day. Never writes; changes nothing."""
