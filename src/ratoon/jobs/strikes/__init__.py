"""The pan floor from the records: strikes as told, and the plan of the next hours."""
