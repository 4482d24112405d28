"""The manual: one source for the page *Help* and for `sumlight help`, in every language of the page."""
