"""The chain of events: each covers all before it; what is anchored outside the database."""
