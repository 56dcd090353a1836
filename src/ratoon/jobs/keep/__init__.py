"""A mill's folder: made, backed up, brought back, looked over."""
