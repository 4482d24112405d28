"""Stock: rolls of resist, metal and stencils on the shelf. Control keeps all of it."""
