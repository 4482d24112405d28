"""The page of the box: a Flask application in its own process, which knows control only by its socket."""
