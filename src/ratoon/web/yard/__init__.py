"""The yard: bins, run-out, allotments."""
