"""The hours to come in the yard, allotments, lots in order."""
