"""The README's commands and the installer in the Debian releases that boxes run, each in a root tree of its own."""
