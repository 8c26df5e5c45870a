"""ZIP and BagIt: strict reading, streaming writing, and the names inside."""
