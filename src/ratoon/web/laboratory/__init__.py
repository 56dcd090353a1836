"""The laboratory's bench: results typed as they are found."""
