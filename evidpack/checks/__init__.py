"""The checks: pure functions from a day and a rule set to findings."""
