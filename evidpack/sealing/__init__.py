"""Puts intake, checks, proof, trust and container together into a bundle."""
