"""From records to the readings of a period, and what stands beside the plant."""
