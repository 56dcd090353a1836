"""Days, weeks and the season to date: accounted, kept, and what a sheet takes from other days."""
