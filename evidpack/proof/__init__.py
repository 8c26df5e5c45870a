"""Canonical JSON, digests, hash chain, RFC 9162 tree, salted commitments: pure functions on bytes."""
