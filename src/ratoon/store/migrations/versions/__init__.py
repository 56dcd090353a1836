"""One file a version of the tables; `revision` is its number."""
