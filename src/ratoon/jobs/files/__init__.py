"""What comes in: files, and what people type, judged before it is kept."""
