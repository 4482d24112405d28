"""The way of a panel over the bench: plans, what each step asks for, and when its timer rings."""
