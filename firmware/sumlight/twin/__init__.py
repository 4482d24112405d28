"""The simulated box: lamps, room, lid, relays and a register-level light sensor behind the real driver."""
