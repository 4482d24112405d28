"""Why a panel failed: visible signs and the panel's own numbers, weighed against a table of causes."""
