"""What results hold: frozen records, from which JSON and its schema are made."""
