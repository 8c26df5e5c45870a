"""evidpack: an evidence-integrity and disclosure packager.

Importing this package loads nothing else, so that ``evidpack --version`` stays quick.
"""

__version__ = "0.1.0"
