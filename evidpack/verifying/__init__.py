"""The numbered verification steps, the three answers, and the verdict."""
