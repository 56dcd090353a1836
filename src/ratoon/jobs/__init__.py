"""The only place where store meets calculation: read, compute, write, say."""
