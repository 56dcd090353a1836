"""Who may come in: requests let in, sign-in, roles, people."""
