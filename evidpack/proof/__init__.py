"""Canonical JSON, digests, the hash chain, the RFC 9162 tree and salted commitments.

Pure functions on bytes: nothing here reads a file, a clock or a source of randomness.
"""
