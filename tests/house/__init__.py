"""A careful house: what docs/threat-model.md says under that heading, each sentence with its test."""
