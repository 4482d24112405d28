"""Who may operate: operators and their passwords, the set-up code, sessions, and the gate before every command."""
