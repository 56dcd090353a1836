"""The page of a server that has no mill yet: it asks what `ratoon new` asks, and begins one."""
