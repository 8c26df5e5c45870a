"""Keys, X.509 paths, CMS signatures, RFC 3161 tokens and anchors."""
