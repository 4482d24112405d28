"""Light: what the meters see now, and the measurements made with the box's own light."""
