"""Published reconciliation cases, answered by `ratoon.equations`."""
