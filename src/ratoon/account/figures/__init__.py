"""The figures of the account, each said once."""
