"""Foreign worlds: laws of nature that judge the estimator; no import and no constant in common with it.

`law` says what a law holds, `nature` lets it happen, `development` names five laws to work with, `drawn` draws any
number more from wide ranges. A drawn law only judges: code is never changed to suit one.
"""
