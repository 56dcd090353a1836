"""Cane from the bin to the statement: received, tracked, analysed, judged, corrected, paid."""
