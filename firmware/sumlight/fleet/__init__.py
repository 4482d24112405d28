"""A shop's boxes together, over engines that exist: records to one collector, state to whoever looks. Extra `fleet`.

Each box stays its own master. Nothing here runs in control, and nothing that arrives over a wire can light a lamp.
"""
