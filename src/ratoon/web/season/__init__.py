"""The season ahead: when crushing ends, with how much, and what that hangs on."""
