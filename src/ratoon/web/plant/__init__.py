"""The plant drawn, its stations, trends, and the mill file."""
