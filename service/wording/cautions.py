"""What stands under every answer."""

CAUTIONS = (
    "Decision support for licensed burn teams. This is a draft proposal: a clinician reviews "
    "every line before anything is done, and nothing has been ordered.",
    "Local protocol and clinical judgement come first.",
    "Not a medical device as shipped.",
    "Numbers are expected values with their ranges, not promises. Minutes are estimates.",
    "No forecast of survival is made, and no advice whether to treat.",
)
