"""What lies on the shelf: rolls of resist, metal, and the stencils that panels are lit through."""
